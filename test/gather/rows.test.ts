import { describe, expect, it } from 'vitest';
import { chance } from '../../sim/random.ts';
import { cleanWear, takeScan } from '../../sim/scanner/scanner.ts';
import { bareShare, descreen } from '../../src/gather/restore.ts';
import { gatherScan } from '../../src/gather/scan.ts';
import type { Dots } from '../../src/parts/darkroom.ts';
import { tryScan } from '../bench/gather-scans.ts';
import { diffuse, stripOf, toneImage } from './fixture.ts';

const fillRows = (body: Dots, rows: readonly number[], byte: number) => {
  for (const row of rows) body.data.fill(byte, row * body.strideBytes, (row + 1) * body.strideBytes);
};

describe('rows under curl and uneven feed', () => {
  // These scans once came out with a row too few or too many.
  it.each([2, 6, 90, 314, 315])('are as many as were printed, and corners within half a dot: scan %i', index => {
    const { bitErrors, cornersDots } = tryScan(index);
    expect(Math.max(...bitErrors)).toBeLessThan(0.03);
    expect(Math.max(...cornersDots)).toBeLessThan(0.5);
  });

  it.each([
    { what: 'white', top: 0, rows: 3 },
    { what: 'white but for the next row', top: 0, rows: 1 },
    { what: 'black', top: 0xff, rows: 6 },
  ])('are counted where the first and last are $what', ({ top, rows }) => {
    for (const seed of [1, 2]) {
      const draw = chance(seed);
      const height = 150;
      const body = diffuse(toneImage(384, height, draw), 384, height);
      fillRows(body, Array.from({ length: rows }, (_, k) => [k, height - 1 - k]).flat(), top);
      const strip = stripOf([{ shot: 3, body }]);
      const scan = takeScan(
        [{ dots: strip.dots, xMm: 32, yMm: 20, turnDegrees: 2 }],
        { widthMm: 64, heightMm: 40, dpi: 600 },
        { ...cleanWear, feedJitterDots: 0.05, feedScale: 1.01, curlDots: 2 },
        draw,
      );
      const [{ dots }] = gatherScan(scan.image, printed => descreen(bareShare(printed, 0.65))).pictures;
      expect(dots?.heightDots).toBe(height);
      expect(dots && Buffer.compare(dots.data, body.data)).toBe(0);
    }
  });
});
