import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { chance } from '../../sim/random.ts';
import type { ScanWear } from '../../sim/scanner/scanner.ts';
import { cleanWear, takeScan } from '../../sim/scanner/scanner.ts';
import { project } from '../../src/gather/homography.ts';
import { findMarks } from '../../src/gather/marks.ts';
import { findPictures } from '../../src/gather/pictures.ts';
import { bareShare, descreen } from '../../src/gather/restore.ts';
import { gatherScan } from '../../src/gather/scan.ts';
import type { Dots } from '../../src/parts/darkroom.ts';
import { diffuse, stripOf, toneImage } from './fixture.ts';

const bitErrors = (a: Dots, b: Dots): number => {
  if (a.widthDots !== b.widthDots || a.heightDots !== b.heightDots) return 1;
  let wrong = 0;
  for (let y = 0; y < a.heightDots; y++)
    for (let x = 0; x < a.widthDots; x++)
      wrong += ((a.data[y * a.strideBytes + (x >> 3)] ^ b.data[y * b.strideBytes + (x >> 3)]) >> (7 - (x & 7))) & 1;
  return wrong / (a.widthDots * a.heightDots);
};

const kinds: { kind: string; dpi: number; wear: Partial<ScanWear>; dots?: number }[] = [
  { kind: 'flatbed', dpi: 600, wear: {}, dots: 0.005 },
  { kind: 'uneven feed', dpi: 600, wear: { feedJitterDots: 0.04, feedScale: 1.01, curlDots: 1.5 }, dots: 0.005 },
  { kind: 'coarse flatbed', dpi: 200, wear: {} },
  { kind: 'faded', dpi: 300, wear: { fading: 0.6, noise: 4 } },
  {
    kind: 'phone',
    dpi: 350,
    wear: { perspective: 0.06, curlDots: 3, shading: 0.4, blurPx: 1.2, noise: 6, background: 90 },
  },
  { kind: 'stained', dpi: 300, wear: { stains: 1, dust: 10, shading: 0.2 } },
];

const scanOf = (seed: number, dpi: number, wear: Partial<ScanWear>, turn: number | null = null) => {
  const draw = chance(seed);
  const shot = draw.whole(1, 999_999);
  const body = diffuse(toneImage(384, 320, draw), 384, 320);
  const strip = stripOf([{ shot, body }]);
  const turnDegrees = turn ?? draw.next() * 360;
  const scan = takeScan(
    [{ dots: strip.dots, xMm: 42, yMm: 42, turnDegrees }],
    { widthMm: 84, heightMm: 84, dpi },
    { ...cleanWear, ...wear },
    draw,
  );
  return { scan, shot, body, top: strip.bodyTops[0] };
};

describe('pictures found again on scans', () => {
  it.each(kinds)('$kind at $dpi dpi: named rightly, corners within half a dot', ({ dpi, wear, dots }) => {
    for (const seed of [11, 12]) {
      const { scan, shot, body, top } = scanOf(seed, dpi, wear);
      const { pictures } = gatherScan(scan.image, dots => descreen(bareShare(dots, 0.65)));
      expect(pictures.map(picture => picture.name)).toEqual([{ mark: 'SLIP', shot }]);
      const [picture] = pictures;
      [
        [0, 0],
        [384, 0],
        [384, 320],
        [0, 320],
      ].forEach(([x, y], index) => {
        const truth = scan.place(0, x, top + y);
        const off =
          Math.hypot(picture.corners[index].x - truth.x, picture.corners[index].y - truth.y) / picture.pxPerDot;
        expect(off).toBeLessThan(0.5);
      });
      if (dots !== undefined) expect(picture.dots && bitErrors(picture.dots, body)).toBeLessThanOrEqual(dots);
    }
  });

  it('never gives a wrong name, however worn the strip', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 1e6 }), fc.double({ min: 0, max: 1, noNaN: true }), (seed, harshness) => {
        const { scan, shot } = scanOf(seed, 250, {
          fading: 0.5 * harshness,
          noise: 40 * harshness,
          blurPx: 0.5 + 2.5 * harshness,
          dust: 400 * harshness,
          stains: 2,
        });
        for (const { name } of findPictures(scan.image, findMarks(scan.image)).found)
          if (name) expect(name).toEqual({ mark: 'SLIP', shot });
      }),
      { numRuns: 12, seed: 5 },
    );
  });

  it('turns a mirrored scan the right way round and says so', () => {
    const { scan, shot } = scanOf(21, 300, {}, 10);
    const { widthPx, heightPx, data } = scan.image;
    const mirrored = {
      widthPx,
      heightPx,
      data: Uint8Array.from(data, (_, i) => data[Math.floor(i / widthPx) * widthPx + widthPx - 1 - (i % widthPx)]),
    };
    const result = gatherScan(mirrored, dots => descreen(bareShare(dots, 0.65)));
    expect(result.pictures.map(picture => picture.name?.shot)).toEqual([shot]);
    expect(result.notes.join()).toContain('mirrored');
  });

  it('says of a blank page that it is blank, and of a page of text that no picture is on it', () => {
    const blank = { widthPx: 600, heightPx: 800, data: new Uint8Array(480_000).fill(240) };
    expect(gatherScan(blank, dots => descreen(bareShare(dots, 0.65)))).toEqual({
      pictures: [],
      notes: [expect.stringContaining('blank')],
    });
    const text = { ...blank, data: Uint8Array.from(blank.data) };
    const draw = chance(3);
    for (let line = 40; line < 760; line += 24)
      for (let x = 60; x < 540; x += 9)
        if (!draw.hit(0.15))
          for (let y = line; y < line + 10; y++)
            for (let dx = 0; dx < 5; dx++) if (draw.hit(0.5)) text.data[y * 600 + x + dx] = 40;
    const result = gatherScan(text, dots => descreen(bareShare(dots, 0.65)));
    expect(result.pictures).toEqual([]);
    expect(result.notes.join()).toContain('no printed picture');
  });

  it('cuts out a print that bears no marks, straight and unnamed', () => {
    const draw = chance(8);
    const body = diffuse(toneImage(384, 320, draw), 384, 320);
    const scan = takeScan(
      [{ dots: body, xMm: 40, yMm: 40, turnDegrees: 12 }],
      { widthMm: 80, heightMm: 80, dpi: 300 },
      cleanWear,
      draw,
    );
    const { pictures, notes } = gatherScan(scan.image, dots => descreen(bareShare(dots, 0.65)));
    expect(pictures.length).toBe(1);
    expect(pictures[0].name).toBeNull();
    expect(notes.join()).toContain('no marks');
    const { widthPx, heightPx } = pictures[0].picture;
    const pxPerDot = 300 / 203.2;
    expect(Math.abs(widthPx / pxPerDot - 384)).toBeLessThan(16);
    expect(Math.abs(heightPx / pxPerDot - 320)).toBeLessThan(16);
  });

  it('says of half a picture that marks are left over, and names nothing', () => {
    const { scan, top } = scanOf(31, 300, {}, 0);
    const cut = Math.round(scan.place(0, 0, top + 150).y);
    const half = {
      widthPx: scan.image.widthPx,
      heightPx: cut,
      data: scan.image.data.slice(0, cut * scan.image.widthPx),
    };
    const result = gatherScan(half, dots => descreen(bareShare(dots, 0.65)));
    expect(result.pictures.every(picture => picture.name === null)).toBe(true);
    expect(result.notes.join()).toContain('no whole picture');
  });

  it('takes corners by the homography of the marks', () => {
    const { scan, top } = scanOf(41, 300, {}, 33);
    const [picture] = findPictures(scan.image, findMarks(scan.image)).found;
    const truth = scan.place(0, 192, top + 160);
    const found = project(picture.toScan, 192, 160);
    expect(Math.hypot(found.x - truth.x, found.y - truth.y) / picture.pxPerDot).toBeLessThan(0.2);
  });
});
