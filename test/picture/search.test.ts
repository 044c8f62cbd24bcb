import { describe, expect, it } from 'vitest';
import { coverageOfPatterns, meanInk } from '../../src/picture/dot-gain.ts';
import { eyeCorrelation, eyeGaussians } from '../../src/picture/eye.ts';
import type { Bitmap } from '../../src/picture/halftone/bits.ts';
import { halftoneOf } from '../../src/picture/halftone/named.ts';
import { createSearch } from '../../src/picture/halftone/search.ts';
import { createPaper } from '../../src/picture/paper.ts';
import { decibels } from '../bench/eye-metric.ts';

const radius = 0.65;
const halftone = halftoneOf('search', 1);
const { dotsForLight } = createPaper({ dotRadius: radius, toneCurve: [] }, halftone);

const start = (ink: Float32Array, width: number): Bitmap => {
  const bitmap: Bitmap = { width, height: ink.length / width, data: new Uint8Array(ink.length) };
  halftone(
    ink.map(value => dotsForLight[Math.round((1 - value) * 1024)]),
    bitmap,
  );
  return bitmap;
};
const searched = (ink: Float32Array, width: number, passes = 3): Bitmap => {
  const bitmap = start(ink, width);
  const search = createSearch(radius, 8, passes);
  search.begin(bitmap, ink);
  while (search.step() < bitmap.height);
  return bitmap;
};
const ramp = (width: number, height: number): Float32Array =>
  Float32Array.from(
    { length: width * height },
    (_, i) => 0.1 + 0.8 * ((i % width) / width) * (0.5 + 0.5 * Math.sin(i / width / 9)),
  );

describe('the eye', () => {
  // Kim and Allebach 2002, as quoted: Gaussians of 0.0219 and 0.0598 degrees. 30 cm is how a small print is held (common
  // practice, no source).
  it('at 8 dots/mm and 30 cm its two bells are 0.917 and 2.505 dots wide (calculated)', () => {
    const [narrow, wide] = eyeGaussians(8);
    expect(narrow.sigmaDots).toBeCloseTo(0.917, 2);
    expect(wide.sigmaDots).toBeCloseTo(2.505, 2);
    expect(narrow.weight + wide.weight).toBeCloseTo(1, 12);
  });
  it('its table is 1 in the middle, even to all sides, and falls', () => {
    const table = eyeCorrelation(8, 3);
    expect(table[24]).toBeCloseTo(1, 6);
    expect([table[23], table[17], table[31]]).toEqual([table[25], table[25], table[25]]);
    expect(table[26]).toBeLessThan(table[25]);
  });
});

describe('search', () => {
  it.each([48, 100, 131])('makes a picture of %i rows better with each pass, never worse', height => {
    const [width, ink] = [96, ramp(96, height)];
    const figures = [0, 1, 2, 3].map(passes =>
      decibels((passes === 0 ? start(ink, width) : searched(ink, width, passes)).data, ink, width, height, radius),
    );
    figures.slice(1).forEach((figure, i) => {
      expect(figure).toBeGreaterThanOrEqual(figures[i]);
    });
    expect(figures[3]).toBeGreaterThan(figures[0] + 0.5);
  });
  it('rows that are said to be final are: later steps leave them alone', () => {
    const [width, height] = [64, 120];
    const ink = ramp(width, height);
    const bitmap = start(ink, width);
    const search = createSearch(radius, 8, 3);
    search.begin(bitmap, ink);
    let final = 0;
    let seen: Uint8Array = new Uint8Array(0);
    while (final < height) {
      const now = search.step();
      expect(now).toBeGreaterThanOrEqual(final);
      expect(bitmap.data.subarray(0, final * width)).toEqual(seen);
      final = now;
      seen = bitmap.data.slice(0, final * width);
    }
  });
  it('buffers that served another picture leave no trace', () => {
    const search = createSearch(radius, 8, 2);
    const through = (ink: Float32Array, width: number) => {
      const bitmap = start(ink, width);
      search.begin(bitmap, ink);
      while (search.step() < bitmap.height);
      return bitmap.data;
    };
    const first = through(ramp(64, 64), 64).slice();
    through(new Float32Array(64 * 64).fill(0.6), 64);
    through(ramp(40, 30), 40);
    expect(through(ramp(64, 64), 64)).toEqual(first);
  });
  it('tiny pictures are left as they are', () => {
    for (const [width, height] of [
      [1, 1],
      [2, 5],
      [3, 2],
    ])
      expect(searched(new Float32Array(width * height).fill(0.5), width).data.length).toBe(width * height);
  });
  it.each([1 / 8, 1 / 4, 1 / 2, 3 / 4])('a flat of %f ink has that ink, no checkerboard and no worms', ink => {
    const side = 128;
    const bitmap = searched(new Float32Array(side * side).fill(ink), side);
    expect(meanInk(bitmap, coverageOfPatterns(radius), 8)).toBeCloseTo(ink, 1.7);
    // Minority dots; chance would find each offset at a share of p.
    const on = bitmap.data.reduce((sum, bit) => sum + bit, 0) / side ** 2;
    const minority = on > 0.5 ? 0 : 1;
    const p = Math.min(on, 1 - on);
    const neighbour = (dx: number, dy: number) => {
      let both = 0;
      let all = 0;
      for (let y = 8; y < side - 8; y++)
        for (let x = 8; x < side - 8; x++) {
          if (bitmap.data[y * side + x] !== minority) continue;
          all++;
          if (bitmap.data[(y + dy) * side + x + dx] === minority) both++;
        }
      return both / all;
    };
    // A checkerboard would have a dot at nearly every diagonal place, a worm at every second one along a line, far on.
    expect(neighbour(1, 1)).toBeLessThan(0.8);
    for (const [dx, dy] of [
      [4, 0],
      [0, 4],
      [4, 4],
      [4, -4],
      [6, 0],
      [0, 6],
    ])
      expect(Math.abs(neighbour(dx, dy) - p)).toBeLessThan(0.25);
    // Rows and columns alike.
    expect(Math.abs(neighbour(2, 0) - neighbour(0, 2))).toBeLessThan(0.3);
  });
});
