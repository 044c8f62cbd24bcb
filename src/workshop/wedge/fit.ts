import { type Curve, coverageOfPatterns, inkOfReflectance, meanInk, yuleNielsen } from '../../picture/dot-gain.ts';
import { patchBits } from './draw.ts';
import { patchInset, patchSize } from './layout.ts';
import type { Reading } from './read.ts';

export interface Fit {
  /** Ink by Murray–Davies for shares of dots asked, rising from [0, 0] to [1, 1]: the printer's tone curve. */
  curve: Curve;
  /** Radius of round dots, in pitches, that alone explains the curve best: what the search reckons with. */
  dotRadius: number;
  /** With light that wanders in the paper taken into account: radius and Yule–Nielsen exponent. */
  optical: { dotRadius: number; n: number };
  /** Root mean square of what each model leaves unexplained, ink. */
  rms: { round: number; optical: number };
  /** Reflectance of solid ink against bare paper. */
  solid: number;
}

/** Nearest rising values (pool adjacent violators). */
const rising = (values: readonly number[]): number[] => {
  const pools: { sum: number; count: number }[] = [];
  for (const value of values) {
    pools.push({ sum: value, count: 1 });
    while (pools.length > 1) {
      const [a, b] = pools.slice(-2);
      if (a.sum / a.count <= b.sum / b.count) break;
      pools.splice(-2, 2, { sum: a.sum + b.sum, count: a.count + b.count });
    }
  }
  return pools.flatMap(({ sum, count }) => new Array<number>(count).fill(sum / count));
};

const between = (from: number, to: number, step: number): number[] =>
  Array.from({ length: Math.round((to - from) / step) + 1 }, (_, i) => from + i * step);

/** From what was measured to the printer's tone curve and dot radius. */
export const fitWedge = ({ steps }: Reading): Fit => {
  const solid = steps[steps.length - 1].reflectance;
  const inks = steps.map(({ reflectance }) => inkOfReflectance(reflectance, solid, 1));
  const shares = steps.map(({ share }) => share);
  const patches = shares.map(share => patchBits({ x: 0, y: 0, size: patchSize, share }));
  const flats = shares.map(share => patchBits({ x: 0, y: 0, size: 128, share }));
  // Ink counts from paper to solid, and solid has tiny gaps where dots don't quite fill the corners between them.
  const models = between(0.5, 1.2, 0.01).map(radius => {
    const coverage = coverageOfPatterns(radius);
    return { radius, covered: patches.map(bits => meanInk(bits, coverage, patchInset) / coverage[511]) };
  });
  const optically = (a: number, n: number) => inkOfReflectance(yuleNielsen(a, solid, 1, n), solid, 1);
  const rmsOf = (covered: readonly number[], n: number) =>
    Math.sqrt(covered.reduce((sum, a, i) => sum + (optically(a, n) - inks[i]) ** 2, 0) / inks.length);
  const best = (exponents: readonly number[]) => {
    let found = { radius: 0, n: 1, rms: Number.POSITIVE_INFINITY };
    for (const { radius, covered } of models)
      for (const n of exponents) {
        const rms = rmsOf(covered, n);
        if (rms < found.rms) found = { radius, n, rms };
      }
    return found;
  };
  const round = best([1]);
  const optical = best(between(1, 2, 0.05));
  // A patch is small, and its own dots are never quite the share that was asked: the model says by how much, on a large flat
  // against this very patch; what the model can't explain is the printer's own.
  const coverage = coverageOfPatterns(optical.radius);
  const large = rising(
    inks.map((ink, i) => {
      const own = optically(meanInk(patches[i], coverage, patchInset) / coverage[511], optical.n);
      return ink + optically(meanInk(flats[i], coverage) / coverage[511], optical.n) - own;
    }),
  );
  const curve: Curve = shares.map((share, i) => {
    const ink = i === 0 ? 0 : i === shares.length - 1 ? 1 : Math.min(1, Math.max(0, large[i]));
    return [share, Math.round(ink * 10_000) / 10_000] as const;
  });
  const two = (value: number) => Math.round(value * 100) / 100;
  return {
    curve,
    dotRadius: two(round.radius),
    optical: { dotRadius: two(optical.radius), n: two(optical.n) },
    rms: { round: round.rms, optical: optical.rms },
    solid,
  };
};
