import { readImprintText } from '../print/imprint.ts';

/**
 * Reads Code 128 (ISO/IEC 15417) from a brightness profile whose geometry is known to within a few modules: every
 * symbol is the pattern that fits its eleven modules best. A reading counts only when the symbol check (mod 103) and
 * the text's own check digits (ISO/IEC 7064) both hold, so that a number is right or not read at all.
 */

/** Bar and space widths of values 0…102, starts A, B, C (103…105): ISO/IEC 15417, table 1. */
const widths =
  `212222 222122 222221 121223 121322 131222 122213 122312 132212 221213 221312 231212 112232 122132 122231 113222 123122 123221
 223211 221132 221231 213212 223112 312131 311222 321122 321221 312212 322112 322211 212123 212321 232121 111323 131123 131321
 112313 132113 132311 211313 231113 231311 112133 112331 132131 113123 113321 133121 313121 211331 231131 213113 213311 213131
 311123 311321 331121 312113 312311 332111 314111 221411 431111 111224 111422 121124 121421 141122 141221 112214 112412 122114
 122411 142112 142211 241211 221114 413111 241112 134111 111242 121142 121241 114212 124112 124211 411212 421112 421211 212141
 214121 412121 111143 111341 131141 114113 114311 411113 411311 113141 114131 311141 411131 211412 211214 211232`.split(
    /\s+/,
  );
const stopWidths = '2331112';

const modulesOf = (pattern: string): Float64Array => {
  const modules: number[] = [];
  [...pattern].forEach((width, index) => {
    for (let i = 0; i < Number(width); i++) modules.push(index % 2 === 0 ? 1 : 0);
  });
  return Float64Array.from(modules);
};
const patterns = widths.map(modulesOf);
const stopPattern = modulesOf(stopWidths);
const startB = 104;
const startC = 105;

/** Correlation of a pattern with ink levels at module pitch; both have their own mean taken off. */
const likeness = (ink: Float64Array, at: number, pattern: Float64Array): number => {
  let [sumInk, sumPattern, cross, power, own] = [0, 0, 0, 0, 0];
  for (let i = 0; i < pattern.length; i++) {
    const v = ink[at + i];
    sumInk += v;
    sumPattern += pattern[i];
    cross += v * pattern[i];
    power += v * v;
    own += pattern[i] * pattern[i];
  }
  const n = pattern.length;
  const spread = (power - (sumInk * sumInk) / n) * (own - (sumPattern * sumPattern) / n);
  return spread <= 0 ? 0 : (cross - (sumInk * sumPattern) / n) / Math.sqrt(spread);
};

const textOf = (values: readonly number[]): string | null => {
  let set = values[0] === startB ? 'B' : values[0] === startC ? 'C' : null;
  let text = '';
  for (let i = 1; i < values.length - 1; i++) {
    const value = values[i];
    if (set === null) return null;
    if (value === 99 && set === 'B') set = 'C';
    else if (value === 100 && set === 'C') set = 'B';
    else if (set === 'C' && value < 100) text += String(value).padStart(2, '0');
    else if (set === 'B' && value < 95) text += String.fromCharCode(32 + value);
    else return null;
  }
  const sum = values.slice(0, -1).reduce((total, value, index) => total + value * (index === 0 ? 1 : index), 0);
  return sum % 103 === values[values.length - 1] ? text : null;
};

/** Symbols before the stop of every text that an imprint can carry; a mark of four letters makes eleven, three make ten. */
const symbolCounts = [11, 10, 9, 8, 12, 13, 7, 6];

/** How far a symbol may lie from where its forerunner lets expect it, in dots. */
const drifts = [0, -0.3, 0.3];
/** How far the stop may have drifted away by all of that together. */
const stopSlack = [0, -0.5, 0.5, -1, 1, -1.5, 1.5];
/** What is taken off of the neighbourhood, against blur: none at first. */
const sharpenings = [0, 1.2];
const shifts = [0, -0.4, 0.4, -0.8, 0.8, -1.3, 1.3];
const stretches = [1, 0.994, 1.006, 0.988, 1.012];
const leastLikeness = 0.7;

type InkAt = (dots: number) => number;

/** Values of all symbols, each followed where it really lies; null where start or stop don't look like it. */
const follow = (inkAt: InkAt, symbols: number, moduleDots: number, from: number, stretch: number): number[] | null => {
  const ink = new Float64Array(13);
  const take = (at: number, modules: number) => {
    for (let i = 0; i < modules; i++) ink[i] = inkAt((at + (i + 0.5) * moduleDots) * stretch);
  };
  // Most of what lies between two marks is no code at all: the stop tells that cheaply.
  const stopSeen = stopSlack.some(slack => {
    take(from + symbols * 11 * moduleDots + slack, 13);
    return likeness(ink, 0, stopPattern) >= leastLikeness;
  });
  if (!stopSeen) return null;
  const values: number[] = [];
  let at = from;
  for (let symbol = 0; symbol < symbols; symbol++) {
    const [first, last] = symbol === 0 ? [startB, startC] : [0, 102];
    let best = first;
    let bestLikeness = Number.NEGATIVE_INFINITY;
    let bestDrift = 0;
    for (const drift of drifts) {
      take(at + drift, 11);
      for (let value = first; value <= last; value++) {
        const like = likeness(ink, 0, patterns[value]) - Math.abs(drift) * 0.02;
        if (like > bestLikeness) [best, bestLikeness, bestDrift] = [value, like, drift];
      }
    }
    if (symbol === 0 && bestLikeness < leastLikeness) return null;
    values.push(best);
    at += 11 * moduleDots + bestDrift;
  }
  take(at, 13);
  return likeness(ink, 0, stopPattern) < leastLikeness ? null : values;
};

/**
 * @param inkAt Darkness (any scale, dark is larger) at a distance in dots from the middle between the two marks.
 * @param moduleDots Width of a module in dots.
 * @returns Camera mark and number, or null when nothing is read for certain.
 */
export const readCode = (inkAt: InkAt, moduleDots: number): { mark: string; shot: number } | null => {
  for (const sharpen of sharpenings) {
    const reach = 1.5 * moduleDots;
    const sharp: InkAt =
      sharpen === 0
        ? inkAt
        : dots => inkAt(dots) * (1 + sharpen) - (sharpen * (inkAt(dots - reach) + inkAt(dots + reach))) / 2;
    for (const symbols of symbolCounts) {
      const half = ((symbols * 11 + 13) * moduleDots) / 2;
      for (const stretch of stretches)
        for (const shift of shifts) {
          const values = follow(sharp, symbols, moduleDots, shift - half, stretch);
          const text = values && textOf(values);
          const read = text ? readImprintText(text) : null;
          if (read) return read;
        }
    }
  }
  return null;
};
