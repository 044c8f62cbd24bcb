import { encode } from 'jpeg-js';
import { describe, expect, it } from 'vitest';
import { createGrey } from '../../../src/gather/grey.ts';
import { isFault } from '../../../src/parts/fault.ts';
import { along, coverageOfPatterns, meanInk } from '../../../src/picture/dot-gain.ts';
import { decodePhoto } from '../../../src/picture/image.ts';
import { drawWedge, patchBits } from '../../../src/workshop/wedge/draw.ts';
import { fitWedge } from '../../../src/workshop/wedge/fit.ts';
import { keyBits, layOutWedge, readKey } from '../../../src/workshop/wedge/layout.ts';
import { plotCurve } from '../../../src/workshop/wedge/plot.ts';
import { readWedge } from '../../../src/workshop/wedge/read.ts';
import { type Glass, scanOf } from './scanner.ts';

const wedge = drawWedge(384);
const faultOf = (run: () => unknown) => {
  try {
    run();
  } catch (error) {
    if (isFault(error)) return error;
    throw error;
  }
  throw new Error('no fault');
};

describe('layout', () => {
  it.each([216, 288, 384, 432, 512, 576, 640, 832])(
    '%i dots: everything lies inside the frame, apart from each other',
    widthDots => {
      const { frame, key, patches, heightDots } = layOutWedge(widthDots);
      const inside = { x0: frame.x + frame.thickness, x1: frame.x + frame.width - frame.thickness };
      for (const { x, y, size } of patches) {
        expect(x).toBeGreaterThanOrEqual(inside.x0 + 10);
        expect(x + size).toBeLessThanOrEqual(inside.x1 - 10);
        expect(y).toBeGreaterThan(key.y + key.size);
        expect(y + size).toBeLessThanOrEqual(frame.y + frame.height - frame.thickness - 10);
      }
      expect(key.x).toBeGreaterThan(inside.x0);
      expect(key.x + 15 * key.pitch + key.size).toBeLessThan(inside.x1);
      expect(heightDots).toBe(frame.y + frame.height + frame.y);
      for (const share of new Set(patches.map(patch => patch.share)))
        expect(patches.filter(patch => patch.share === share).length).toBeGreaterThanOrEqual(2);
    },
  );
  it('no turned or mirrored key reads as another', () => {
    for (let widthDots = 216; widthDots <= 1280; widthDots += 8) {
      expect(readKey(keyBits(widthDots))).toBe(widthDots);
      expect(readKey(keyBits(widthDots).reverse())).not.toBe(widthDots);
      const flipped = keyBits(widthDots);
      flipped[7] ^= 1;
      expect(readKey(flipped)).toBeNull();
    }
  });
  it('refuses a head that is too narrow, and says how wide it has to be', () => {
    expect(faultOf(() => drawWedge(128))).toMatchObject({
      code: 'config',
      mend: expect.stringMatching(/\d{3} dots wide/),
    });
  });
  it('patches hold the share of dots that was asked', () => {
    for (const patch of layOutWedge(384).patches) {
      const { data } = patchBits(patch);
      expect(data.reduce((a, b) => a + b, 0) / data.length).toBeCloseTo(patch.share, 1.7);
    }
  });
});

describe('a scan of a printer whose gain is known', () => {
  const scans: [title: string, glass: Partial<Glass>][] = [
    ['flat on the glass', {}],
    ['turned by 7 degrees', { turnDegrees: 7 }],
    ['upside down at 300 dpi', { turnDegrees: 181, pxPerDot: 1.5, dotRadius: 0.8 }],
    ['across, on a black table', { turnDegrees: 91, table: 20 }],
    [
      'by phone, tilted, in uneven light',
      { turnDegrees: -12, perspective: 0.04, shading: 0.5, noise: 3, pxPerDot: 2.4 },
    ],
    ['small dots', { dotRadius: 0.56, turnDegrees: 2 }],
    ['large dots, pale ink', { dotRadius: 0.95, ink: 0.2, turnDegrees: 3 }],
  ];
  it.each(scans)('%s: ink within 2 %% everywhere', (_, glass) => {
    const reading = readWedge(scanOf(wedge, glass), 384, 'scan.png');
    const fit = fitWedge(reading);
    const radius = glass.dotRadius ?? 0.65;
    const coverage = coverageOfPatterns(radius);
    for (let share = 0; share <= 1; share += 0.02) {
      const truth = meanInk(patchBits({ x: 0, y: 0, size: 200, share }), coverage) / coverage[511];
      expect(Math.abs(along(fit.curve, share) - truth)).toBeLessThan(0.02);
    }
    expect(Math.abs(fit.dotRadius - radius)).toBeLessThanOrEqual(0.03);
    expect(fit.rms.optical).toBeLessThanOrEqual(fit.rms.round);
  });
  it('as a phone keeps it, in a JPEG: within 2 % all the same', () => {
    const { widthPx, heightPx, data } = scanOf(wedge, { turnDegrees: -5, perspective: 0.02, shading: 0.3, noise: 2 });
    const rgba = new Uint8Array(4 * data.length);
    data.forEach((code, i) => {
      rgba.set([code, code, code, 255], 4 * i);
    });
    const jpeg = encode({ width: widthPx, height: heightPx, data: rgba }, 80).data;
    const { curve } = fitWedge(readWedge(decodePhoto(jpeg, 'phone.jpg'), 384, 'phone.jpg'));
    const coverage = coverageOfPatterns(0.65);
    for (let share = 0; share <= 1; share += 0.02) {
      const truth = meanInk(patchBits({ x: 0, y: 0, size: 200, share }), coverage) / coverage[511];
      expect(Math.abs(along(curve, share) - truth)).toBeLessThan(0.02);
    }
  });
  it('plots the curve with its points', () => {
    const plot = plotCurve(fitWedge(readWedge(scanOf(wedge, {}), 384, 'scan.png')).curve);
    expect(plot.match(/●/g)?.length).toBeGreaterThan(15);
    expect(plot).toContain('dots asked');
  });
});

describe('what can’t be measured is refused', () => {
  it.each<[title: string, words: RegExp, run: () => unknown]>([
    ['an empty page', /no step wedge/, () => readWedge(createGrey(800, 1000), 384, 'page.png')],
    [
      'a black square on paper',
      /no step wedge/,
      () => {
        const page = createGrey(800, 1000);
        page.data.fill(240);
        for (let y = 200; y < 700; y++) page.data.fill(20, y * 800 + 200, y * 800 + 600);
        return readWedge(page, 384, 'square.png');
      },
    ],
    [
      'an empty frame',
      /no step wedge/,
      () => {
        const page = createGrey(800, 1000);
        page.data.fill(240);
        for (let y = 200; y < 700; y++) page.data.fill(20, y * 800 + 200, y * 800 + 600);
        for (let y = 215; y < 685; y++) page.data.fill(240, y * 800 + 215, y * 800 + 585);
        return readWedge(page, 384, 'frame.png');
      },
    ],
    ['a mirrored wedge', /mirrored/, () => readWedge(scanOf(wedge, { mirrored: true }), 384, 'm.png')],
    ['another printer’s wedge', /384 dots wide, .* 576/, () => readWedge(scanOf(wedge, {}), 576, 'w.png')],
    ['ink like paper', /darker than paper/, () => readWedge(scanOf(wedge, { ink: 0.5, noise: 0 }), 384, 'p.png')],
  ])('%s', (_, words, run) => {
    expect(faultOf(run)).toMatchObject({ code: 'unreadable', message: expect.stringMatching(words) });
  });
});
