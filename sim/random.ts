/** A seeded source of chance: the same seed gives the same draws on every machine. */
export interface Chance {
  /** Uniform in [0, 1). */
  next(): number;
  /** Whole number in [from, to]. */
  whole(from: number, to: number): number;
  /** Mean 0, variance 1. */
  normal(): number;
  /** True in exactly `ratio` of many draws. */
  hit(ratio: number): boolean;
  pick<T>(of: readonly T[]): T;
  /** A source of its own for one purpose: draws there don't disturb the draws here. */
  fork(purpose: string): Chance;
}

/** 32 bit mix of a string, for seeds out of names. */
const mix = (words: string, seed: number): number => {
  let h = seed >>> 0;
  for (let i = 0; i < words.length; i++) h = Math.imul(h ^ words.charCodeAt(i), 0x9e3779b1) ^ (h >>> 15);
  return h >>> 0;
};

/** xorshift-multiply over a counter (a 32 bit hash of each index): short, portable, good enough for scenes and faults. */
export const chance = (seed: number): Chance => {
  let index = 0;
  const base = Math.imul(seed ^ 0x5bf03635, 0x85ebca6b) >>> 0;
  const next32 = (): number => {
    let x = (base + Math.imul(++index, 0x9e3779b9)) >>> 0;
    x = Math.imul(x ^ (x >>> 16), 0x21f0aaad);
    x = Math.imul(x ^ (x >>> 15), 0x735a2d97);
    return (x ^ (x >>> 15)) >>> 0;
  };
  const next = () => next32() / 2 ** 32;
  return {
    next,
    whole: (from, to) => from + Math.floor(next() * (to - from + 1)),
    normal: () => Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next()),
    hit: ratio => next() < ratio,
    pick: of => of[Math.floor(next() * of.length)],
    fork: purpose => chance(mix(purpose, base)),
  };
};
