/**
 * Round dots of radius over half the pitch overlap their neighbours: paper gets darker than the share of dots says.
 * Reflectances here are relative: bare paper 1, solid ink 0.
 */

const subSamples = 12;

/** Share of a cell that is inked for each of the 512 patterns of itself and its eight neighbours (row by row, the first in the highest bit). */
export const coverageOfPatterns = (radiusDots: number): Float32Array => {
  const table = new Float32Array(512);
  const near: boolean[][] = [];
  for (let s = 0; s < subSamples ** 2; s++) {
    const x = ((s % subSamples) + 0.5) / subSamples - 0.5;
    const y = (Math.floor(s / subSamples) + 0.5) / subSamples - 0.5;
    near.push(
      Array.from({ length: 9 }, (_, n) => Math.hypot(x - ((n % 3) - 1), y - (Math.floor(n / 3) - 1)) < radiusDots),
    );
  }
  for (let pattern = 0; pattern < 512; pattern++)
    table[pattern] =
      near.filter(reach => reach.some((inReach, n) => inReach && (pattern >> (8 - n)) & 1)).length / subSamples ** 2;
  return table;
};

/** Ink coverage on paper when a share `dots` of all cells is printed at random places; by that table. */
const coverageAt = (table: Float32Array, dots: number): number => {
  let sum = 0;
  for (let pattern = 0; pattern < 512; pattern++) {
    let ones = 0;
    for (let bit = 0; bit < 9; bit++) ones += (pattern >> bit) & 1;
    sum += table[pattern] * dots ** ones * (1 - dots) ** (9 - ones);
  }
  return sum;
};

/** Murray–Davies: reflectance of paper `Rp` with a share `a` under ink of `Rs`. */
export const murrayDavies = (a: number, solid: number, paper: number): number => a * solid + (1 - a) * paper;

/** Yule–Nielsen: the same with light that wanders in the paper, exponent n 1…2. */
export const yuleNielsen = (a: number, solid: number, paper: number, n: number): number =>
  (a * solid ** (1 / n) + (1 - a) * paper ** (1 / n)) ** n;

/**
 * Dots to ask for, for each wanted ink share: 1,025 values over 0…1.
 * @param curve Measured pairs [dots asked, ink on paper], ascending; where empty, the dot radius tells.
 * @param spread How the halftone places dots: 'random' is right for nobody, 'dispersed' (blue noise) avoids overlaps in the light.
 */
export const dotsForInk = (
  curve: readonly (readonly [number, number])[],
  measured: (dots: number) => number,
): Float32Array => {
  const points: [number, number][] =
    curve.length >= 2
      ? curve.map(([dots, ink]) => [dots, ink])
      : Array.from({ length: 65 }, (_, i) => [i / 64, measured(i / 64)]);
  const out = new Float32Array(1025);
  let at = 0;
  for (let i = 0; i <= 1024; i++) {
    const ink = i / 1024;
    while (at < points.length - 2 && points[at + 1][1] < ink) at++;
    const [d0, i0] = points[at];
    const [d1, i1] = points[at + 1];
    const t = i1 > i0 ? (ink - i0) / (i1 - i0) : 0;
    out[i] = Math.min(1, Math.max(0, d0 + (d1 - d0) * Math.min(1, Math.max(0, t))));
  }
  return out;
};

export const randomCoverage = (radiusDots: number): ((dots: number) => number) => {
  const table = coverageOfPatterns(radiusDots);
  return dots => coverageAt(table, dots);
};
