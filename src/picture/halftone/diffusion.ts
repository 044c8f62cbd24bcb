import type { Bitmap, Halftone } from './bits.ts';

/** Where a dot's error goes: columns ahead and rows below, with weights out of `divisor`. */
export interface Kernel {
  taps: readonly (readonly [dx: number, dy: number, weight: number])[];
  divisor: number;
}

/** Floyd and Steinberg, 1976. */
export const floydSteinberg: Kernel = {
  taps: [
    [1, 0, 7],
    [-1, 1, 3],
    [0, 1, 5],
    [1, 1, 1],
  ],
  divisor: 16,
};
/** Jarvis, Judice and Ninke, 1976. */
export const jarvisJudiceNinke: Kernel = {
  taps: [
    [1, 0, 7],
    [2, 0, 5],
    [-2, 1, 3],
    [-1, 1, 5],
    [0, 1, 7],
    [1, 1, 5],
    [2, 1, 3],
    [-2, 2, 1],
    [-1, 2, 3],
    [0, 2, 5],
    [1, 2, 3],
    [2, 2, 1],
  ],
  divisor: 48,
};
/** Stucki, 1981. */
export const stucki: Kernel = {
  taps: [
    [1, 0, 8],
    [2, 0, 4],
    [-2, 1, 2],
    [-1, 1, 4],
    [0, 1, 8],
    [1, 1, 4],
    [2, 1, 2],
    [-2, 2, 1],
    [-1, 2, 2],
    [0, 2, 4],
    [1, 2, 2],
    [2, 2, 1],
  ],
  divisor: 42,
};
/** Atkinson: an eighth each to six neighbours; a quarter of the error is let go, which opens shadows and lights. */
export const atkinson: Kernel = {
  taps: [
    [1, 0, 1],
    [2, 0, 1],
    [-1, 1, 1],
    [0, 1, 1],
    [1, 1, 1],
    [0, 2, 1],
  ],
  divisor: 8,
};

/** The four-neighbour kernel in a loop of its own, quicker than the general one by far. */
const diffuseFour = (serpentine: boolean): Halftone => {
  let line = new Float32Array(0);
  return (ink, { width, height, data }) => {
    // One row of errors: what comes from above is read just before what goes below is written in its place.
    if (line.length !== width + 2) line = new Float32Array(width + 2);
    line.fill(0);
    for (let y = 0; y < height; y++) {
      const step = serpentine && (y & 1) === 1 ? -1 : 1;
      let x = step > 0 ? 0 : width - 1;
      let ahead = 0;
      let behind = 0;
      let under = 0;
      for (let n = 0, i = y * width + x; n < width; n++, i += step, x += step) {
        const value = ink[i] + line[x + 1] + ahead;
        const bit = value >= 0.5 ? 1 : 0;
        data[i] = bit;
        const error = (value - bit) / 16;
        ahead = 7 * error;
        line[x + 1 - step] = behind + 3 * error;
        behind = under + 5 * error;
        under = error;
      }
      line[x + 1 - step] = behind;
      line[x + 1] = 0;
    }
  };
};

/** Error diffusion with a fixed kernel, every other row from right to left. */
export const diffuse = (shape: Kernel, serpentine = true): Halftone => {
  if (shape === floydSteinberg) return diffuseFour(serpentine);
  const { taps, divisor } = shape;
  const weights = taps.map(([, , weight]) => weight / divisor);
  return (ink, { width, height, data }) => {
    const pad = 2;
    const stride = width + 2 * pad;
    let rows = [0, 1, 2].map(() => new Float32Array(stride));
    for (let y = 0; y < height; y++) {
      const back = serpentine && (y & 1) === 1;
      const step = back ? -1 : 1;
      const own = rows[0];
      for (let n = 0, x = back ? width - 1 : 0; n < width; n++, x += step) {
        const i = y * width + x;
        const value = ink[i] + own[x + pad];
        const bit = value >= 0.5 ? 1 : 0;
        data[i] = bit;
        const error = value - bit;
        for (let t = 0; t < taps.length; t++) rows[taps[t][1]][x + pad + step * taps[t][0]] += error * weights[t];
      }
      own.fill(0);
      rows = [rows[1], rows[2], own];
    }
  };
};

/** Key rows of Ostromoukhov, SIGGRAPH 2001: level → right, below left, below. */
const ostromoukhovKeys: readonly (readonly [level: number, right: number, belowLeft: number, below: number])[] = [
  [0, 13, 0, 5],
  [1, 13, 0, 5],
  [2, 21, 0, 10],
  [3, 7, 0, 4],
  [4, 8, 0, 5],
  [10, 7, 3, 3],
  [22, 3, 2, 1],
  [36, 5, 3, 3],
  [44, 36, 26, 15],
  [64, 1, 1, 0],
  [72, 5, 7, 1],
  [77, 4, 1, 1],
  [85, 4, 1, 1],
  [95, 5, 3, 2],
  [102, 5, 3, 2],
  [107, 5, 3, 2],
  [127, 4, 1, 1],
];

/** Values between key levels are linear between their normalised rows; levels above 127 mirror those below. */
const betweenKeys = (level: number, keys: readonly (readonly number[])[], normalise: boolean): number[] => {
  const mirrored = level > 127 ? 255 - level : level;
  let k = 0;
  while (k < keys.length - 2 && keys[k + 1][0] <= mirrored) k++;
  const row = (key: readonly number[]) => {
    const values = key.slice(1);
    const sum = normalise ? values.reduce((a, b) => a + b, 0) : 1;
    return values.map(value => value / sum);
  };
  const [a, b] = [row(keys[k]), row(keys[k + 1])];
  const t = (mirrored - keys[k][0]) / (keys[k + 1][0] - keys[k][0]);
  return a.map((value, i) => value + (b[i] - value) * t);
};

/** Coefficients for an 8-bit level: right, below left, below; they sum to 1. */
export const ostromoukhovWeights = (level: number): readonly [number, number, number] =>
  betweenKeys(level, ostromoukhovKeys, true) as [number, number, number];

/** Zhou and Fang, SIGGRAPH 2003: strength of the threshold's modulation in percent, by level. */
const modulationKeys: readonly (readonly [level: number, percent: number])[] = [
  [0, 0],
  [44, 34],
  [64, 50],
  [85, 100],
  [95, 17],
  [102, 50],
  [107, 70],
  [112, 79],
  [127, 100],
];
export const zhouFangModulation = (level: number): number => betweenKeys(level, modulationKeys, false)[0];

/** Error diffusion whose weights follow the level; with `modulated`, the threshold wanders as Zhou and Fang have it. */
export const diffuseByLevel = (modulated: boolean): Halftone => {
  const weights = new Float32Array(256 * 3);
  const modulation = new Float32Array(256);
  for (let level = 0; level < 256; level++) {
    weights.set(ostromoukhovWeights(level), level * 3);
    modulation[level] = modulated ? zhouFangModulation(level) / 100 : 0;
  }
  return (ink, { width, height, data }) => {
    let own = new Float32Array(width + 2);
    let below = new Float32Array(width + 2);
    // A fixed seed: the same picture is the same print.
    let seed = 0x2f6e2b1;
    for (let y = 0; y < height; y++) {
      const step = y & 1 ? -1 : 1;
      for (let n = 0, x = step < 0 ? width - 1 : 0; n < width; n++, x += step) {
        const i = y * width + x;
        const level = (ink[i] * 255 + 0.5) | 0;
        let threshold = 127.5 / 255;
        if (modulated) {
          seed = (Math.imul(seed, 1664525) + 1013904223) | 0;
          threshold += (((seed >>> 25) & 127) / 255) * modulation[level];
        }
        const value = ink[i] + own[x + 1];
        const bit = value >= threshold ? 1 : 0;
        data[i] = bit;
        const error = value - bit;
        own[x + 1 + step] += error * weights[level * 3];
        below[x + 1 - step] += error * weights[level * 3 + 1];
        below[x + 1] += error * weights[level * 3 + 2];
      }
      own.fill(0);
      [own, below] = [below, own];
    }
  };
};

export const threshold: Halftone = (ink, { data }: Bitmap) => {
  for (let i = 0; i < data.length; i++) data[i] = ink[i] >= 0.5 ? 1 : 0;
};
