import { spawnSync } from 'node:child_process';
import { existsSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { lookSchema } from '../../src/config/schema.ts';
import type { Bitmap } from '../../src/picture/halftone/bits.ts';
import {
  atkinson,
  diffuse,
  floydSteinberg,
  jarvisJudiceNinke,
  ostromoukhovWeights,
  stucki,
  zhouFangModulation,
} from '../../src/picture/halftone/diffusion.ts';
import { halftoneOf } from '../../src/picture/halftone/named.ts';
import { bayerMatrix, clusteredDot, voidAndCluster } from '../../src/picture/halftone/ordered.ts';
import { linearOf } from '../../src/picture/transfer.ts';
import { decibels } from '../bench/eye-metric.ts';
import { havePhotos, photo, photoNames, python } from './photos.ts';

const names = lookSchema.def.shape.halftone.def.innerType.options;
const run = (name: (typeof names)[number], ink: Float32Array, width: number, grain = 1): Uint8Array => {
  const bitmap: Bitmap = { width, height: ink.length / width, data: new Uint8Array(ink.length) };
  halftoneOf(name, grain)(ink, bitmap);
  return bitmap.data;
};
const mean = (values: ArrayLike<number>) => Array.prototype.reduce.call(values, (a, b) => a + b, 0) as number;

describe('kernels as published', () => {
  it.each([
    ['Floyd and Steinberg 1976', floydSteinberg, '7 3 5 1', 16, 16],
    ['Jarvis, Judice and Ninke 1976', jarvisJudiceNinke, '7 5 3 5 7 5 3 1 3 5 3 1', 48, 48],
    ['Stucki 1981', stucki, '8 4 2 4 8 4 2 1 2 4 2 1', 42, 42],
    ['Atkinson, which lets a quarter go', atkinson, '1 1 1 1 1 1', 8, 6],
  ] as const)('%s', (_, { taps, divisor }, weights, over, sum) => {
    expect(taps.map(([, , weight]) => weight).join(' ')).toBe(weights);
    expect(divisor).toBe(over);
    expect(taps.reduce((a, [, , weight]) => a + weight, 0)).toBe(sum);
  });
  it('Ostromoukhov 2001: check rows 5 and 33, mirrored above 127, sums of 1', () => {
    const close = (row: readonly number[]) => row.map(value => expect.closeTo(value, 6));
    expect([...ostromoukhovWeights(5)]).toEqual(close([47 / 78, 3 / 78, 28 / 78]));
    expect([...ostromoukhovWeights(33)]).toEqual(close([13 / 28, 8 / 28, 7 / 28]));
    for (let level = 0; level < 256; level++) {
      expect(mean(ostromoukhovWeights(level))).toBeCloseTo(1, 9);
      expect([...ostromoukhovWeights(level)]).toEqual([...ostromoukhovWeights(255 - level)]);
    }
  });
  it('Zhou and Fang 2003: strengths at their key levels, mirrored', () => {
    const table = { 0: 0, 44: 34, 64: 50, 85: 100, 95: 17, 102: 50, 107: 70, 112: 79, 127: 100 };
    for (const [level, percent] of Object.entries(table)) {
      expect(zhouFangModulation(Number(level))).toBeCloseTo(percent, 9);
      expect(zhouFangModulation(255 - Number(level))).toBeCloseTo(percent, 9);
    }
  });
});

describe('matrices', () => {
  it('Bayer 1973: rows 0 and 1 of 8 × 8, each value once, sum 2016', () => {
    const matrix = bayerMatrix(8);
    expect([...matrix.subarray(0, 8)]).toEqual([0, 32, 8, 40, 2, 34, 10, 42]);
    expect([...matrix.subarray(8, 16)]).toEqual([48, 16, 56, 24, 50, 18, 58, 26]);
    expect(mean(matrix)).toBe(2016);
    expect(new Set(matrix).size).toBe(64);
  });
  it('clustered dots grow: each next cell touches one that is on already, at eight of ten places', () => {
    const rank = clusteredDot();
    expect([...rank].sort((a, b) => a - b)).toEqual(Array.from({ length: 64 }, (_, i) => i));
    let touching = 0;
    for (let i = 0; i < 64; i++) {
      const [x, y] = [i % 8, i >> 3];
      const near = [
        [1, 0],
        [7, 0],
        [0, 1],
        [0, 7],
      ].map(([dx, dy]) => rank[((y + dy) % 8) * 8 + ((x + dx) % 8)]);
      if (near.some(other => other < rank[i])) touching++;
    }
    expect(touching).toBeGreaterThanOrEqual(52);
  });
  it('void and cluster (Ulichney 1993): each rank once; few dots lie far apart', () => {
    const size = 32;
    const rank = voidAndCluster(size);
    expect([...rank].sort((a, b) => a - b)).toEqual(Array.from({ length: size * size }, (_, i) => i));
    const few = [...rank.keys()].filter(i => rank[i] < 64);
    const nearest = few.map(a =>
      Math.min(
        ...few
          .filter(b => b !== a)
          .map(b => {
            const apart = (p: number, q: number) => Math.min(Math.abs(p - q), size - Math.abs(p - q));
            return Math.hypot(apart(a % size, b % size), apart(Math.floor(a / size), Math.floor(b / size)));
          }),
      ),
    );
    // 64 dots on 1,024 places: 4 apart on a square grid; chance would leave some side by side.
    expect(Math.min(...nearest)).toBeGreaterThanOrEqual(2.2);
  });
});

describe('every halftone', () => {
  it.each(names)('%s: white stays white, black black, and the same ink gives the same dots', name => {
    const ramp = Float32Array.from({ length: 64 * 64 }, (_, i) => (i % 64) / 63);
    expect(run(name, ramp, 64)).toEqual(run(name, ramp, 64));
    expect(mean(run(name, new Float32Array(4096), 64))).toBe(0);
    expect(mean(run(name, new Float32Array(4096).fill(1), 64))).toBe(4096);
  });
  it.each(names.filter(name => name !== 'atkinson' && name !== 'threshold'))('%s keeps the mean', name => {
    fc.assert(
      fc.property(fc.double({ min: 0.02, max: 0.98, noNaN: true }), share => {
        const dots = mean(run(name, new Float32Array(128 * 128).fill(share), 128)) / 128 ** 2;
        expect(Math.abs(dots - share)).toBeLessThan(0.012);
      }),
      { numRuns: 25 },
    );
  });
  it('diffusion loses nothing: what isn’t in dots lies beyond the edges', () => {
    fc.assert(
      fc.property(fc.array(fc.float({ min: 0, max: 1, noNaN: true }), { minLength: 256, maxLength: 256 }), values => {
        const ink = Float32Array.from(values);
        expect(Math.abs(mean(run('floyd-steinberg', ink, 16)) - mean(ink))).toBeLessThan(12);
      }),
    );
  });
  it('coarse grain repeats each place', () => {
    const bits = run('bayer', new Float32Array(256).fill(0.4), 16, 2);
    for (let y = 0; y < 16; y += 2)
      for (let x = 0; x < 16; x += 2) {
        const i = y * 16 + x;
        expect([bits[i + 1], bits[i + 16], bits[i + 17]]).toEqual([bits[i], bits[i], bits[i]]);
      }
  });
  it('the loop of its own for Floyd and Steinberg does what the general one does', () => {
    const ink = Float32Array.from({ length: 50 * 40 }, (_, i) => 0.5 + 0.5 * Math.sin(i / 17) * Math.cos(i / 311));
    for (const serpentine of [true, false]) {
      const own: Bitmap = { width: 50, height: 40, data: new Uint8Array(2000) };
      const general: Bitmap = { ...own, data: new Uint8Array(2000) };
      diffuse(floydSteinberg, serpentine)(ink, own);
      diffuse({ ...floydSteinberg }, serpentine)(ink, general);
      const differing = own.data.filter((bit, i) => bit !== general.data[i]).length;
      // Sums in another order round in other places.
      expect(differing).toBeLessThan(20);
      expect(Math.abs(mean(own.data) - mean(general.data))).toBeLessThanOrEqual(2);
    }
  });
});

/**
 * Pillow's Floyd and Steinberg: from left to right in every row, threshold above 128, sums of sixteenths in integers, which
 * are cut towards zero and clipped to a byte at each pixel.
 */
const asPillow = (grey: Uint8Array, width: number): Uint8Array => {
  const errors = new Int32Array(width + 2);
  return Uint8Array.from(
    { length: grey.length },
    (l => (_: unknown, i: number) => {
      const x = i % width;
      if (x === 0) l = { ahead: 0, under: 0, behind: 0 };
      const value = Math.min(255, Math.max(0, grey[i] + Math.trunc((l.ahead + errors[x + 1]) / 16)));
      const out = value > 128 ? 255 : 0;
      const error = value - out;
      errors[x] = 3 * error + l.behind;
      l = { ahead: 7 * error, behind: 5 * error + l.under, under: error };
      if (x === width - 1) errors[x + 1] = l.behind;
      return out === 0 ? 1 : 0;
    })({ ahead: 0, under: 0, behind: 0 }),
  );
};

describe.skipIf(!havePhotos || !existsSync(python))(
  'against Pillow on Debian’s photographs (needs python3-skimage and python3-pil)',
  () => {
    const pillow = (data: Uint8Array, width: number, height: number): Uint8Array => {
      const words = `import sys;from PIL import Image;sys.stdout.buffer.write(Image.frombytes('L',(${width},${height}),sys.stdin.buffer.read()).convert('1').convert('L').tobytes())`;
      const { stdout } = spawnSync(python, ['-c', words], { input: data, maxBuffer: 1e8 });
      return Uint8Array.from(stdout, value => (value === 0 ? 1 : 0));
    };
    it.each(photoNames)(
      '%s: Pillow’s dots are Floyd and Steinberg’s with its own rounding; ours differ by no more',
      name => {
        const { data, widthPx, heightPx } = photo(name);
        const theirs = pillow(data, widthPx, heightPx);
        // With Pillow's integers and threshold, bit for bit:
        expect(Buffer.from(asPillow(data, widthPx)).equals(Buffer.from(theirs))).toBe(true);
        // Ours carries fractions on: other dots, the same picture.
        const bitmap: Bitmap = { width: widthPx, height: heightPx, data: new Uint8Array(data.length) };
        const ink = Float32Array.from(data, code => 1 - code / 255);
        diffuse(floydSteinberg, false)(ink, bitmap);
        const share = (bits: Uint8Array) => mean(bits) / bits.length;
        expect(Math.abs(share(bitmap.data) - mean(ink) / ink.length)).toBeLessThanOrEqual(
          Math.abs(share(theirs) - mean(ink) / ink.length) + 1e-3,
        );
        const [ours, his] = [bitmap.data, theirs].map(bits => decibels(bits, ink, widthPx, heightPx, 0));
        expect(ours).toBeGreaterThan(his - 0.2);
      },
    );
  },
);

describe('linear light', () => {
  // sRGB, IEC 61966-2-1: code 188 is 0.50289 of light (calculated), so 0.497 are left for dots.
  it('a flat of code 188 takes half the dots', () => {
    const share =
      mean(run('floyd-steinberg', new Float32Array(128 * 128).fill(1 - linearOf(188 / 255)), 128)) / 128 ** 2;
    expect(share).toBeCloseTo(0.497, 2);
  });
});
