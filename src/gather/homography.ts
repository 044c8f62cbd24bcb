import type { Point } from './grey.ts';

/** Plane to plane, row-major 3 × 3 with the last element 1. */
export type Homography = readonly number[];

export const project = (h: Homography, x: number, y: number): Point => {
  const w = h[6] * x + h[7] * y + 1;
  return { x: (h[0] * x + h[1] * y + h[2]) / w, y: (h[3] * x + h[4] * y + h[5]) / w };
};

/** Gaussian elimination with partial pivoting; `rows` are [coefficients…, right side]. */
export const solve = (rows: number[][]): number[] | null => {
  const n = rows.length;
  for (let i = 0; i < n; i++) {
    let pivot = i;
    for (let r = i + 1; r < n; r++) if (Math.abs(rows[r][i]) > Math.abs(rows[pivot][i])) pivot = r;
    if (Math.abs(rows[pivot][i]) < 1e-12) return null;
    [rows[i], rows[pivot]] = [rows[pivot], rows[i]];
    for (let r = i + 1; r < n; r++) {
      const factor = rows[r][i] / rows[i][i];
      for (let c = i; c <= n; c++) rows[r][c] -= factor * rows[i][c];
    }
  }
  const x = new Array<number>(n).fill(0);
  for (let i = n - 1; i >= 0; i--) {
    let sum = rows[i][n];
    for (let c = i + 1; c < n; c++) sum -= rows[i][c] * x[c];
    x[i] = sum / rows[i][i];
  }
  return x;
};

/** The homography that takes four points to four points; null when three of them lie on a line. */
export const homographyFrom = (from: readonly Point[], to: readonly Point[]): Homography | null => {
  const rows: number[][] = [];
  for (let i = 0; i < 4; i++) {
    const { x, y } = from[i];
    const { x: u, y: v } = to[i];
    rows.push([x, y, 1, 0, 0, 0, -u * x, -u * y, u], [0, 0, 0, x, y, 1, -v * x, -v * y, v]);
  }
  const h = solve(rows);
  return h && [...h, 1];
};
