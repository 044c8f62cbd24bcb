import type { Bitmap, Halftone } from './halftone/bits.ts';

/**
 * Round dots of radius over half the pitch overlap their neighbours: paper gets darker than the share of dots says. Ink is
 * counted from bare paper, 0, to solid black, 1, in reflected light.
 */

const samples = 96;

/**
 * Share of a cell that is inked for each of the 512 patterns of itself and its eight neighbours (row by row, the first in
 * the highest bit).
 */
export const coverageOfPatterns = (radiusDots: number): Float32Array => {
  /** Points of the cell by which dots would reach them. */
  const reached = new Map<number, number>();
  for (let s = 0; s < samples ** 2; s++) {
    const x = ((s % samples) + 0.5) / samples - 0.5;
    const y = (Math.floor(s / samples) + 0.5) / samples - 0.5;
    let near = 0;
    for (let n = 0; n < 9; n++)
      if ((x - (n % 3) + 1) ** 2 + (y - Math.floor(n / 3) + 1) ** 2 < radiusDots ** 2) near |= 256 >> n;
    reached.set(near, (reached.get(near) ?? 0) + 1);
  }
  return Float32Array.from({ length: 512 }, (_, pattern) => {
    let inked = 0;
    for (const [near, count] of reached) if (pattern & near) inked += count;
    return inked / samples ** 2;
  });
};

/** Murray–Davies (1936): reflectance of a share `a` under ink of reflectance `solid` on paper of `paper`. */
export const murrayDavies = (a: number, solid: number, paper: number): number => a * solid + (1 - a) * paper;

/** Murray–Davies turned round: the share of ink that a reflectance stands for. */
export const inkOfReflectance = (reflectance: number, solid: number, paper: number): number =>
  (paper - reflectance) / (paper - solid);

/** Yule–Nielsen (1951): the same with light that wanders in the paper, exponent n 1…2. */
export const yuleNielsen = (a: number, solid: number, paper: number, n: number): number =>
  (a * solid ** (1 / n) + (1 - a) * paper ** (1 / n)) ** n;

/** Yule–Nielsen turned round. */
export const inkOfReflectanceYn = (reflectance: number, solid: number, paper: number, n: number): number =>
  (paper ** (1 / n) - reflectance ** (1 / n)) / (paper ** (1 / n) - solid ** (1 / n));

/** Mean ink of a bitmap's inside, `margin` cells from its edges left out, by a coverage table. */
export const meanInk = ({ width, height, data }: Bitmap, coverage: Float32Array, margin = 1): number => {
  let sum = 0;
  for (let y = margin; y < height - margin; y++)
    for (let x = margin, i = y * width + margin; x < width - margin; x++, i++) {
      const above = i - width;
      const under = i + width;
      sum +=
        coverage[
          (data[above - 1] << 8) |
            (data[above] << 7) |
            (data[above + 1] << 6) |
            (data[i - 1] << 5) |
            (data[i] << 4) |
            (data[i + 1] << 3) |
            (data[under - 1] << 2) |
            (data[under] << 1) |
            data[under + 1]
        ];
    }
  return sum / ((width - 2 * margin) * (height - 2 * margin));
};

export type Curve = readonly (readonly [from: number, to: number])[];

/** Ink on paper for shares of dots asked, measured on flats that a halftone makes of them; rising from [0, 0] to [1, 1]. */
export const gainOf = (halftone: Halftone, radiusDots: number): Curve => {
  const side = 80;
  const levels = 33;
  const coverage = coverageOfPatterns(radiusDots);
  const bitmap: Bitmap = { width: side, height: side, data: new Uint8Array(side * side) };
  const flat = new Float32Array(side * side);
  const curve: [number, number][] = [];
  for (let level = 0; level < levels; level++) {
    const asked = level / (levels - 1);
    halftone(flat.fill(asked), bitmap);
    const ink = meanInk(bitmap, coverage, 8);
    curve.push([asked, Math.max(ink, curve[level - 1]?.[1] ?? 0)]);
  }
  curve[0][1] = 0;
  curve[levels - 1][1] = 1;
  return curve;
};

/** A curve read from right to left. */
export const turned = (curve: Curve): Curve => curve.map(([from, to]) => [to, from] as const);

/** Value of a rising curve, straight between its points. */
export const along = (curve: Curve, at: number): number => {
  let i = 0;
  while (i < curve.length - 2 && curve[i + 1][0] < at) i++;
  const [[x0, y0], [x1, y1]] = [curve[i], curve[i + 1]];
  const t = x1 > x0 ? (at - x0) / (x1 - x0) : 0;
  return y0 + (y1 - y0) * Math.min(1, Math.max(0, t));
};

export const tableSteps = 1024;
/** A curve as 1,025 values over 0…1. */
export const tableOf = (value: (at: number) => number): Float32Array =>
  Float32Array.from({ length: tableSteps + 1 }, (_, i) => Math.min(1, Math.max(0, value(i / tableSteps))));
