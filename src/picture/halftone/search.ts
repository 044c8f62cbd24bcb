import { coverageOfPatterns } from '../dot-gain.ts';
import type { Bitmap } from './bits.ts';

/**
 * Direct binary search (Analoui and Allebach, 1992) on the dots as they print: round, overlapping. What the eye sees of
 * the difference between paper and wanted tone is made smaller by turning single dots and by exchanging neighbours.
 */

/** Eye filter: two Gaussians, 43.2·e^(−r²/2·0.0219²) + 38.7·e^(−r²/2·0.0598²), r in degrees (published dual-Gaussian eye model). */
const eye = [
  { weight: 43.2, sigmaDegrees: 0.0219 },
  { weight: 38.7, sigmaDegrees: 0.0598 },
];
const viewingMm = 300;

/** Autocorrelation of the eye filter at whole dots, from the middle outwards to `reach`; 1 in the middle. */
export const eyeCorrelation = (dotsPerMm: number, reach: number): Float32Array => {
  const degreesPerDot = (Math.atan(1 / dotsPerMm / viewingMm) * 180) / Math.PI;
  const size = 2 * reach + 1;
  const table = new Float32Array(size * size);
  // Gaussians convolved with Gaussians stay Gaussian: variances add up.
  for (const a of eye)
    for (const b of eye) {
      const variance = a.sigmaDegrees ** 2 + b.sigmaDegrees ** 2;
      const mass = (a.weight * b.weight * a.sigmaDegrees ** 2 * b.sigmaDegrees ** 2) / variance;
      for (let y = -reach; y <= reach; y++)
        for (let x = -reach; x <= reach; x++)
          table[(y + reach) * size + x + reach] +=
            mass * Math.exp((-(x * x + y * y) * degreesPerDot ** 2) / (2 * variance));
    }
  const middle = table[reach * size + reach];
  return table.map(value => value / middle);
};

const reach = 6;
const size = 2 * reach + 1;

export interface Search {
  /** Improves `bitmap` in place for the wanted `reflectance` (0 ink … 1 paper); `passes` over all dots at most. */
  refine(bitmap: Bitmap, reflectance: Float32Array, passes: number): void;
}

export const createSearch = (radiusDots: number, dotsPerMm: number): Search => {
  const coverage = coverageOfPatterns(radiusDots);
  const correlation = eyeCorrelation(dotsPerMm, reach);
  // Correlation between any two of the nine cells that one dot touches.
  const inner = new Float32Array(81);
  for (let a = 0; a < 9; a++)
    for (let b = 0; b < 9; b++) {
      const dx = (a % 3) - (b % 3) + reach;
      const dy = Math.floor(a / 3) - Math.floor(b / 3) + reach;
      inner[a * 9 + b] = correlation[dy * size + dx];
    }

  return {
    refine({ width, height, data }, reflectance, passes) {
      const pad = reach + 2;
      const stride = width + 2 * pad;
      const rows = height + 2 * pad;
      const bits = new Uint8Array(stride * rows);
      for (let y = 0; y < height; y++) bits.set(data.subarray(y * width, (y + 1) * width), (y + pad) * stride + pad);
      const near = [-stride - 1, -stride, -stride + 1, -1, 0, 1, stride - 1, stride, stride + 1];
      const patternAt = (i: number) =>
        (bits[i - stride - 1] << 8) |
        (bits[i - stride] << 7) |
        (bits[i - stride + 1] << 6) |
        (bits[i - 1] << 5) |
        (bits[i] << 4) |
        (bits[i + 1] << 3) |
        (bits[i + stride - 1] << 2) |
        (bits[i + stride] << 1) |
        bits[i + stride + 1];

      // What is too dark is positive. Seen: the same through eye and back, which is what decides.
      const seen = new Float32Array(stride * rows);
      const spread = (at: number, amount: number) => {
        for (let dy = -reach, k = 0; dy <= reach; dy++) {
          const row = at + dy * stride - reach;
          for (let x = 0; x < size; x++, k++) seen[row + x] += amount * correlation[k];
        }
      };
      for (let y = 0; y < height; y++)
        for (let x = 0; x < width; x++) {
          const i = (y + pad) * stride + x + pad;
          const error = coverage[patternAt(i)] - (1 - reflectance[y * width + x]);
          if (error !== 0) spread(i, error);
        }

      const change = new Float32Array(9);
      /** Change of the nine cells' coverage when the dot at `i` is turned; the bit stands turned while they are read. */
      const turnCost = (i: number): number => {
        let cost = 0;
        for (let k = 0; k < 9; k++) {
          const pattern = patternAt(i + near[k]);
          // Seen from the k-th neighbour this dot stands opposite.
          change[k] = coverage[pattern ^ (1 << k)] - coverage[pattern];
          cost += 2 * change[k] * seen[i + near[k]];
        }
        for (let a = 0; a < 9; a++) {
          const own = change[a];
          if (own === 0) continue;
          for (let b = 0; b < 9; b++) cost += own * change[b] * inner[a * 9 + b];
        }
        return cost;
      };
      const turn = (i: number) => {
        for (let k = 0; k < 9; k++) {
          const pattern = patternAt(i + near[k]);
          change[k] = coverage[pattern ^ (1 << k)] - coverage[pattern];
        }
        for (let k = 0; k < 9; k++) if (change[k] !== 0) spread(i + near[k], change[k]);
        bits[i] ^= 1;
      };

      const worth = -1e-4;
      for (let pass = 0; pass < passes; pass++) {
        let turned = 0;
        for (let y = 0; y < height; y++)
          for (let x = 0; x < width; x++) {
            const i = (y + pad) * stride + x + pad;
            const alone = turnCost(i);
            if (alone < worth) {
              turn(i);
              turned++;
              continue;
            }
            // An exchange is worth a look only where the turn itself isn't hopeless.
            if (alone > exchangeHope) continue;
            let best = worth;
            let partner = -1;
            const own = bits[i];
            turn(i);
            for (let k = 0; k < 9; k++) {
              const j = i + near[k];
              if (k === 4 || bits[j] !== 1 - own) continue;
              const [jx, jy] = [(j % stride) - pad, Math.floor(j / stride) - pad];
              if (jx < 0 || jy < 0 || jx >= width || jy >= height) continue;
              const both = alone + turnCost(j);
              if (both < best) [best, partner] = [both, j];
            }
            if (partner >= 0) {
              turn(partner);
              turned++;
            } else turn(i);
          }
        if (turned < width * height * 0.0005) break;
      }
      for (let y = 0; y < height; y++)
        data.set(bits.subarray((y + pad) * stride + pad, (y + pad) * stride + pad + width), y * width);
    },
  };
};
const exchangeHope = 0.35;
