import type { Dots } from '../parts/darkroom.ts';
import { coverageOfPatterns } from '../picture/dot-gain.ts';
import { codedOf } from '../picture/transfer.ts';
import { createNetwork, type Layer, marginOf } from './network.ts';
import weights from './restore-weights.json' with { type: 'json' };

/**
 * Continuous tone back from dots: a small convolution network takes the bare paper of each cell and two low-passed views of
 * it, and adds to the softer one what it believes was lost. It was fitted on invented pictures in the camera's own
 * halftones (see `test/gather/train`), so that it knows how dots are placed; no photograph was used.
 */

export interface Plane {
  width: number;
  height: number;
  data: Float32Array;
}

/** Separable Gaussian, edges repeated. */
export const gaussian = ({ width, height, data }: Plane, sigma: number): Plane => {
  const half = Math.ceil(3 * sigma);
  const kernel = Array.from({ length: 2 * half + 1 }, (_, i) => Math.exp(-((i - half) ** 2) / (2 * sigma * sigma)));
  const total = kernel.reduce((sum, k) => sum + k, 0);
  const across = new Float32Array(data.length);
  const out = new Float32Array(data.length);
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      let sum = 0;
      for (let k = -half; k <= half; k++)
        sum += kernel[k + half] * data[y * width + Math.min(width - 1, Math.max(0, x + k))];
      across[y * width + x] = sum / total;
    }
  for (let y = 0; y < height; y++)
    for (let k = -half; k <= half; k++) {
      const row = Math.min(height - 1, Math.max(0, y + k)) * width;
      const weight = kernel[k + half] / total;
      for (let x = 0; x < width; x++) out[y * width + x] += weight * across[row + x];
    }
  return { width, height, data: out };
};

const coded = (plane: Plane): Plane => ({ ...plane, data: plane.data.map(v => codedOf(v < 0 ? 0 : v > 1 ? 1 : v)) });

/** Plain low-pass restoration: what every other has to beat. Gamma-coded 0…1. */
export const descreen = (bare: Plane, sigma = 1.6): Plane => coded(gaussian(bare, sigma));

/** Share of each cell that is bare paper, 0…1, for round dots of `radiusDots`; outside the picture is paper. */
export const bareShare = ({ widthDots, heightDots, strideBytes, data }: Dots, radiusDots: number): Plane => {
  const table = coverageOfPatterns(radiusDots);
  const stride = widthDots + 2;
  const bits = new Uint8Array(stride * (heightDots + 2));
  for (let y = 0; y < heightDots; y++)
    for (let x = 0; x < widthDots; x++)
      bits[(y + 1) * stride + x + 1] = (data[y * strideBytes + (x >> 3)] >> (7 - (x & 7))) & 1;
  const bare = new Float32Array(widthDots * heightDots);
  for (let y = 0; y < heightDots; y++)
    for (let x = 0; x < widthDots; x++) {
      let pattern = 0;
      for (let row = y; row < y + 3; row++)
        for (let i = row * stride + x; i < row * stride + x + 3; i++) pattern = (pattern << 1) | bits[i];
      bare[y * widthDots + x] = 1 - table[pattern];
    }
  return { width: widthDots, height: heightDots, data: bare };
};

/** The network's three views: bare paper, a sharper and a softer low-pass, gamma-coded; each about zero. */
export const viewsOf = (bare: Plane): Float32Array[] => [
  bare.data.map(v => v - 0.5),
  descreen(bare, 0.9).data.map(v => v - 0.5),
  descreen(bare, 1.6).data.map(v => v - 0.5),
];

/** Views with their edges repeated, as the network wants them. */
const padded = (views: readonly Float32Array[], width: number, height: number, margin: number): Float32Array => {
  const [w, h] = [width + 2 * margin, height + 2 * margin];
  const out = new Float32Array(views.length * w * h);
  views.forEach((view, v) => {
    for (let y = 0; y < h; y++) {
      const from = Math.min(height - 1, Math.max(0, y - margin)) * width;
      for (let x = 0; x < w; x++) out[(v * h + y) * w + x] = view[from + Math.min(width - 1, Math.max(0, x - margin))];
    }
  });
  return out;
};

const fitted: readonly Layer[] = weights.layers;
/** Rows worked on at once, so that memory doesn't grow with the picture. */
const bandRows = 64;

/** Gamma-coded tone 0…1 of what dots left bare. */
export const restoreTone = (bare: Plane): Plane => {
  const { width, height } = bare;
  const margin = marginOf(fitted);
  const views = viewsOf(bare);
  const soft = views[2];
  const input = padded(views, width, height, margin);
  const [w, h] = [width + 2 * margin, height + 2 * margin];
  const network = createNetwork(fitted, w, Math.min(height, bandRows) + 2 * margin);
  const data = new Float32Array(width * height);
  for (let top = 0; top < height; top += bandRows) {
    const rows = Math.min(bandRows, height - top);
    const gained = network.run(input, h, top, rows);
    for (let k = 0, at = top * width; k < rows * width; k++, at++) {
      const value = gained[k] + soft[at] + 0.5;
      data[at] = value < 0 ? 0 : value > 1 ? 1 : value;
    }
  }
  return { width, height, data };
};
