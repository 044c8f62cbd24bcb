import { createKernels, roomFor } from '../kernels.ts';
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

/** Ink, dots, a row of errors and a table in the kernels' memory, for bitmaps of one size. */
const layOut = (width: number, height: number, table: Int32Array) => {
  const count = width * height;
  const kernels = createKernels(roomFor(1, count) + roomFor(4, count, width + 2, table.length));
  const room = {
    kernels,
    width,
    height,
    ink: kernels.floats(count),
    dots: kernels.bytes(count),
    line: kernels.integers(width + 2),
    table: kernels.integers(table.length),
  };
  room.table.set(table);
  return room;
};

/** A halftone by an inner loop that works in the kernels' memory. */
const inKernels = (run: (room: ReturnType<typeof layOut>) => void, table = new Int32Array(0)): Halftone => {
  let room: ReturnType<typeof layOut> | null = null;
  return (ink, { width, height, data }) => {
    if (room?.width !== width || room.height !== height) room = layOut(width, height, table);
    room.ink.set(ink);
    run(room);
    data.set(room.dots);
  };
};

/** Error diffusion with a fixed kernel, every other row from right to left. */
export const diffuse = (shape: Kernel, serpentine = true): Halftone => {
  if (shape === floydSteinberg)
    return inKernels(({ kernels, width, height, ink, dots, line }) =>
      kernels.diffuseFour(ink.byteOffset, dots.byteOffset, width, height, line.byteOffset, serpentine),
    );
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

/** Error diffusion whose weights follow the level; at `wandering` 1 its threshold wanders as far as Zhou and Fang have it. */
export const diffuseByLevel = (wandering: number): Halftone => {
  const byLevel = new Int32Array(256 * 4);
  for (let level = 0; level < 256; level++) {
    const [right, belowLeft] = ostromoukhovWeights(level).map(weight => Math.round(weight * 16_384));
    // The threshold goes up by as much as 127/255 of the strength.
    const reach = Math.round(wandering * (zhouFangModulation(level) / 100) * (128 / 255) * 65_536);
    byLevel.set([right, belowLeft, reach], level * 4);
  }
  return inKernels(
    ({ kernels, width, height, ink, dots, line, table }) =>
      kernels.diffuseByLevel(ink.byteOffset, dots.byteOffset, width, height, line.byteOffset, table.byteOffset),
    byLevel,
  );
};

export const threshold: Halftone = (ink, { data }: Bitmap) => {
  for (let i = 0; i < data.length; i++) data[i] = ink[i] >= 0.5 ? 1 : 0;
};
