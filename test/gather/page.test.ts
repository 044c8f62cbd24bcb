import fc from 'fast-check';
import { PNG } from 'pngjs';
import { describe, expect, it } from 'vitest';
import { chance } from '../../sim/random.ts';
import { reduce } from '../../src/gather/grey.ts';
import { readPage } from '../../src/gather/page.ts';
import { decodePhoto } from '../../src/picture/image.ts';

/** A PNG by a library: any of the five filters, grey or colour, with or without alpha. */
const written = (width: number, height: number, colorType: 0 | 2 | 4 | 6, filterType: number, seed: number): Buffer => {
  const draw = chance(seed);
  const png = new PNG({ width, height });
  let [r, g, b] = [128, 128, 128];
  for (let i = 0; i < 4 * width * height; i += 4) {
    const drift = () => draw.whole(-20, 20);
    [r, g, b] = [(r + drift()) & 255, (g + drift()) & 255, (b + drift()) & 255];
    // A library's grey from colour is not the same: it is given grey.
    const colours = colorType === 0 || colorType === 4 ? [r, r, r] : [r, g, b];
    png.data.set([...colours, colorType >= 4 ? draw.whole(0, 255) : 255], i);
  }
  return PNG.sync.write(png, { colorType, filterType, inputHasAlpha: true });
};

describe('scans read row by row', () => {
  it('are the same as read by a library at once (pngjs)', async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.integer({ min: 1, max: 40 }),
        fc.integer({ min: 1, max: 40 }),
        fc.constantFrom(0 as const, 2 as const, 4 as const, 6 as const),
        fc.integer({ min: 0, max: 4 }),
        fc.integer(),
        async (width, height, colorType, filterType, seed) => {
          const bytes = written(width, height, colorType, filterType, seed);
          const known = decodePhoto(bytes, 'scan');
          const read = await readPage(bytes, 'scan');
          expect([read?.widthPx, read?.heightPx]).toEqual([known.widthPx, known.heightPx]);
          // Alpha is rounded at another place: one level may lie between.
          read?.data.forEach((value, i) => {
            expect(Math.abs(value - known.data[i])).toBeLessThanOrEqual(colorType >= 4 ? 1 : 0);
          });
        },
      ),
      { numRuns: 60, seed: 3 },
    );
  });

  it('are reduced by a whole number where they are too large', async () => {
    const bytes = written(31, 22, 0, 4, 9);
    const known = reduce(decodePhoto(bytes, 'scan'), 2);
    const read = await readPage(bytes, 'scan', 200);
    expect(read).toMatchObject({ widthPx: 15, heightPx: 11 });
    expect([...(read?.data ?? [])]).toEqual([...known.data]);
  });

  it('are left to the library when they are of another kind, and said to be damaged when they are', async () => {
    const bytes = written(20, 20, 2, 1, 4);
    expect(await readPage(Buffer.from('no PNG at all, and long enough to look at'), 'scan')).toBeNull();
    await expect(readPage(bytes.subarray(0, bytes.length - 30), 'scan')).rejects.toThrow('cut short');
    const spoilt = Buffer.from(bytes);
    spoilt[60] ^= 1;
    await expect(readPage(spoilt, 'scan')).rejects.toThrow('checksum');
  });
});
