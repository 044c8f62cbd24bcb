import { describe, expect, it } from 'vitest';
import { chance } from '../../sim/random.ts';
import type { ScanWear } from '../../sim/scanner/scanner.ts';
import { cleanWear, takeScan } from '../../sim/scanner/scanner.ts';
import type { Homography } from '../../src/gather/homography.ts';
import { homographyFrom } from '../../src/gather/homography.ts';
import { seatOf } from '../../src/gather/seat.ts';
import { imprintGeometry } from '../../src/print/imprint.ts';
import { diffuse, stripOf, toneImage } from './fixture.ts';

const { markDots, gapDots } = imprintGeometry;
const middle = markDots / 2;

/** A strip's scan and its true view, by the marks' true places, moved by some dots. */
const scene = (dpi: number, wear: Partial<ScanWear>, byX: number, byY: number) => {
  const draw = chance(dpi);
  const body = diffuse(toneImage(384, 160, draw), 384, 160);
  const strip = stripOf([{ shot: 7, body }]);
  const scan = takeScan(
    [{ dots: strip.dots, xMm: 32, yMm: 20, turnDegrees: 3 }],
    { widthMm: 64, heightMm: 40, dpi },
    { ...cleanWear, ...wear },
    draw,
  );
  const corners = [
    [0, 0],
    [384, 0],
    [384, 160],
    [0, 160],
  ].map(([x, y]) => ({ x, y }));
  const seen = corners.map(({ x, y }) => scan.place(0, x + byX, y + byY + strip.bodyTops[0]));
  return { image: scan.image, view: homographyFrom(corners, seen) as Homography };
};

describe('where a mark lies, by its half towards the picture', () => {
  it.each<{ what: string; dpi: number; wear: Partial<ScanWear>; within?: number }>([
    { what: 'clean', dpi: 200, wear: {}, within: 0.07 },
    { what: 'clean', dpi: 600, wear: {} },
    { what: 'large dots', dpi: 600, wear: { dotRadius: 0.75 } },
    { what: 'small dots', dpi: 300, wear: { dotRadius: 0.56 } },
    { what: 'faded and noisy', dpi: 300, wear: { fading: 0.6, noise: 4 } },
    { what: 'blurred, in a shadow', dpi: 400, wear: { blurPx: 1.2, shading: 0.4 } },
    { what: 'dusty', dpi: 600, wear: { dust: 300 } },
  ])('is found to about a twentieth of a dot: $what, $dpi dpi', ({ dpi, wear, within = 0.05 }) => {
    const { image, view } = scene(dpi, wear, 0.4, -0.7);
    const pxPerDot = dpi / 203.2;
    for (const x of [middle, 384 - middle])
      for (const [y, inward] of [
        [-gapDots - middle, 1],
        [160 + gapDots + middle, -1],
      ] as const) {
        const seat = seatOf(image, view, pxPerDot, x, y, inward);
        expect(Math.abs((seat?.x ?? 9) + 0.4)).toBeLessThan(within);
        expect(Math.abs((seat?.y ?? 9) - 0.7)).toBeLessThan(within);
      }
  });

  it('is not told where there is no mark', () => {
    const { image, view } = scene(300, {}, 0, 0);
    expect(seatOf(image, view, 300 / 203.2, -60, 80, 1)).toBeNull();
  });
});
