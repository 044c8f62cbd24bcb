import type { Grey } from './grey.ts';
import { solve } from './homography.ts';

/** Even light: darkness 0 (bare paper) … 1 (ink), as floats, of a rectified picture. */
export interface Ink {
  width: number;
  height: number;
  data: Float32Array;
}

const blocksAcross = 12;

/** Quadratic surface in −1…1 coordinates through weighted values. */
const terms = (x: number, y: number) => [1, x, y, x * x, x * y, y * y];

const fitSurface = (points: readonly { x: number; y: number; value: number; weight: number }[]): number[] | null => {
  const rows = Array.from({ length: 6 }, () => new Array<number>(7).fill(0));
  for (const { x, y, value, weight } of points) {
    const t = terms(x, y);
    for (let i = 0; i < 6; i++) {
      for (let j = 0; j < 6; j++) rows[i][j] += weight * t[i] * t[j];
      rows[i][6] += weight * t[i] * value;
    }
  }
  return solve(rows);
};

const percentile = (counts: Uint32Array, share: number): number => {
  const total = counts.reduce((sum, n) => sum + n, 0);
  let seen = 0;
  for (let value = 0; value < counts.length; value++) {
    seen += counts[value];
    if (seen >= share * total) return value;
  }
  return counts.length - 1;
};

interface Box {
  left: number;
  top: number;
  right: number;
  bottom: number;
}

const percentileIn = ({ widthPx, data }: Grey, { left, top, right, bottom }: Box, share: number): number => {
  const counts = new Uint32Array(256);
  for (let y = top; y < bottom; y += 2) for (let x = left; x < right; x += 2) counts[data[y * widthPx + x]]++;
  return percentile(counts, share);
};

/** Parts of the paper darker than this share of what its surroundings let expect are ink, stain or dust. */
const leastPaper = 0.95;

/**
 * Takes uneven light out: the paper's brightness is a smooth surface. The rim all around the picture is bare, and is enough
 * to tell a quadratic surface; the brightest parts of each block inside count where they are as bright as that lets expect.
 * @param rim Width of the bare rim, pixels.
 */
export const evenLight = (image: Grey, rim: number): Ink => {
  const { widthPx, heightPx, data } = image;
  const size = Math.max(8, Math.round(widthPx / blocksAcross));
  const boxes: { box: Box; share: number; bare: boolean }[] = [];
  for (let left = 0; left < widthPx; left += size) {
    const right = Math.min(widthPx, left + size);
    boxes.push({ box: { left, right, top: 0, bottom: rim }, share: 0.6, bare: true });
    boxes.push({ box: { left, right, top: heightPx - rim, bottom: heightPx }, share: 0.6, bare: true });
    for (let top = 0; top < heightPx; top += size)
      boxes.push({ box: { left, right, top, bottom: Math.min(heightPx, top + size) }, share: 0.97, bare: false });
  }
  for (let top = 0; top < heightPx; top += size) {
    const bottom = Math.min(heightPx, top + size);
    boxes.push({ box: { left: 0, right: rim, top, bottom }, share: 0.6, bare: true });
    boxes.push({ box: { left: widthPx - rim, right: widthPx, top, bottom }, share: 0.6, bare: true });
  }
  const points = boxes.map(({ box, share, bare }) => ({
    x: (box.left + box.right) / widthPx - 1,
    y: (box.top + box.bottom) / heightPx - 1,
    value: percentileIn(image, box, share),
    weight: bare ? 1 : 0,
    bare,
  }));
  const flat = [Math.max(1, ...points.map(point => point.value)), 0, 0, 0, 0, 0];
  let surface = fitSurface(points) ?? flat;
  for (let round = 0; round < 4; round++) {
    for (const point of points) {
      const paper = terms(point.x, point.y).reduce((sum, term, i) => sum + term * surface[i], 0);
      point.weight = point.value < leastPaper * paper ? 0 : point.bare ? 1 : 0.5;
    }
    surface = fitSurface(points) ?? flat;
  }
  const ink: Ink = { width: widthPx, height: heightPx, data: new Float32Array(widthPx * heightPx) };
  const paperAlong = (y: number) => {
    const v = (y / heightPx) * 2 - 1;
    const start = surface[0] + surface[2] * v + surface[5] * v * v;
    const slope = surface[1] + surface[4] * v;
    return (x: number) => {
      const u = (x / widthPx) * 2 - 1;
      return Math.max(8, start + (slope + surface[3] * u) * u);
    };
  };
  const counts = new Uint32Array(256);
  for (let y = 0; y < heightPx; y += 4) {
    const paper = paperAlong(y);
    for (let x = 0; x < widthPx; x += 4) counts[Math.min(255, Math.round((data[y * widthPx + x] / paper(x)) * 200))]++;
  }
  const scale = 1 / (1 - Math.min(0.9, percentile(counts, 0.02) / 200));
  for (let y = 0; y < heightPx; y++) {
    const paper = paperAlong(y);
    const row = y * widthPx;
    for (let x = 0; x < widthPx; x++) ink.data[row + x] = (1 - data[row + x] / paper(x)) * scale;
  }
  return ink;
};
