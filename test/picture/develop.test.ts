import { describe, expect, it } from 'vitest';
import { type Config, defaultConfig, type Look, lookSchema } from '../../src/config/schema.ts';
import type { Dots } from '../../src/parts/darkroom.ts';
import { isFault } from '../../src/parts/fault.ts';
import type { Frame } from '../../src/parts/webcam.ts';
import { captionWords } from '../../src/picture/caption.ts';
import { createDeveloper } from '../../src/picture/develop.ts';
import { coverageOfPatterns } from '../../src/picture/dot-gain.ts';
import { glyphsOf } from '../../src/picture/font.ts';
import { builtInLooks, resolveLook } from '../../src/picture/looks.ts';
import { createPaperView } from '../../src/picture/on-paper.ts';
import { emptyDots, packRows } from '../../src/picture/strip.ts';
import { linearTable } from '../../src/picture/transfer.ts';

const caption = { shot: 17, takenAtMs: new Date(2026, 5, 20, 18, 4).getTime() };
const quick = lookSchema.parse({ halftone: 'floyd-steinberg' });
const profile = { widthDots: 96, dotRadius: 0.65, toneCurve: [], dotsPerMm: 8 };
const developer = (picture: Partial<Config['picture']> = {}, look: Look = quick, widthDots = 96) =>
  createDeveloper({
    picture: { ...defaultConfig().picture, ...picture },
    look,
    profile: { ...profile, widthDots },
    cameraName: 'slip',
  });
const frame = (given: Partial<Frame> = {}): Frame => {
  const [widthPx, heightPx] = [160, 120];
  const data = Uint8Array.from(
    { length: widthPx * heightPx },
    (_, i) => 60 + 100 * Math.sin(i / 900) ** 2 + (i % widthPx) / 2,
  );
  const stamps = { sequence: 1, exposureStartUs: 0, exposureEndUs: 1 };
  return { ...stamps, format: 'GREY', widthPx, heightPx, strideBytes: widthPx, range: 'full', data, ...given };
};
const bit = ({ strideBytes, data }: Dots, x: number, y: number) =>
  (data[y * strideBytes + (x >> 3)] >> (7 - (x & 7))) & 1;
const inkIn = (dots: Dots, x0: number, y0: number, x1: number, y1: number) => {
  let sum = 0;
  for (let y = y0; y < y1; y++) for (let x = x0; x < x1; x++) sum += bit(dots, x, y);
  return sum;
};

describe('develop', () => {
  it.each(Object.keys(builtInLooks))('the look %s: same frame, same dots; a picture, not a blank', name => {
    const one = developer({}, builtInLooks[name]).develop(frame(), caption);
    expect([one.widthDots, one.heightDots, one.strideBytes, one.data.length]).toEqual([96, 128, 12, 12 * 128]);
    const two = developer({}, builtInLooks[name]);
    two.develop(frame({ data: frame().data.map(code => 255 - code) }), caption);
    expect(two.develop(frame(), caption).data).toEqual(one.data);
    if (name !== 'line') expect(inkIn(one, 0, 0, 96, 128)).toBeGreaterThan(1000);
    expect(inkIn(one, 0, 0, 96, 128)).toBeLessThan(96 * 128);
  });
  it('bit by bit it comes to the same; rows said to be final stay', () => {
    for (const look of [quick, builtInLooks.soft]) {
      const whole = developer({ border: 'line', caption: 'x' }, look);
      const picture = developer({ border: 'line', caption: 'x' }, look).begin(frame(), caption);
      const dots = whole.develop(frame(), caption);
      let rows = 0;
      while (rows < dots.heightDots) {
        rows = picture.step();
        const bytes = rows * dots.strideBytes;
        expect(picture.dots.data.subarray(0, bytes)).toEqual(dots.data.subarray(0, bytes));
      }
      expect(picture.step()).toBe(dots.heightDots);
      expect(picture.dots.data).toEqual(dots.data);
    }
  });
  it('YUYV, GREY and luma of the same picture are the same dots; limited range is stretched', () => {
    const grey = frame();
    const yuyv = frame({
      format: 'YUYV',
      strideBytes: 330,
      data: Uint8Array.from({ length: 330 * 120 }, (_, i) => {
        const x = i % 330;
        return x < 320 && x % 2 === 0 ? grey.data[Math.floor(i / 330) * 160 + x / 2] : 128;
      }),
    });
    const dots = developer().develop(grey, caption);
    expect(developer().develop(yuyv, caption).data).toEqual(dots.data);
    expect(developer().developLuma({ widthPx: 160, heightPx: 120, data: grey.data }, caption).data).toEqual(dots.data);
    const bare = lookSchema.parse({ levels: 0, localContrast: 0, sharpen: 0, halftone: 'threshold' });
    const black = frame({ range: 'limited', data: new Uint8Array(160 * 120).fill(16) });
    expect(inkIn(developer({}, bare).develop(black, caption), 0, 0, 96, 128)).toBe(96 * 128);
  });
  it('frames of changing size are no matter', () => {
    const one = developer();
    one.develop(frame(), caption);
    const small = { ...frame(), widthPx: 80, heightPx: 60, strideBytes: 80, data: new Uint8Array(4800).fill(200) };
    expect(one.develop(small, caption).heightDots).toBe(128);
    expect(one.develop(frame(), caption).data).toEqual(developer().develop(frame(), caption).data);
  });
  it('a frame that can’t be decoded is a Fault', () => {
    expect(() =>
      developer().develop(frame({ format: 'MJPEG', data: Uint8Array.of(0xff, 0xd8, 1, 2, 3) }), caption),
    ).toThrow(/JPEG/);
  });
  // sRGB, IEC 61966-2-1: code 118 is 0.18116 of light (calculated).
  it('tone is what the dots stand for', () => {
    const bare = lookSchema.parse({ levels: 0, localContrast: 0, sharpen: 0 });
    const tone = developer({}, bare).toneOf({ widthPx: 8, heightPx: 8, data: new Uint8Array(64).fill(118) });
    expect(tone.every(code => Math.abs(code - 118) < 0.1)).toBe(true);
    expect(linearTable[118]).toBeCloseTo(0.18116, 4);
  });
});

describe('border, caption', () => {
  it('a line runs round the picture, a frame leaves white inside it', () => {
    for (const [border, inset] of [
      ['line', 2],
      ['frame', 14],
    ] as const) {
      const dots = developer({ border }, lookSchema.parse({ halftone: 'threshold' })).develop(frame(), caption);
      const { widthDots: w, heightDots: h } = dots;
      expect(inkIn(dots, 0, 0, w, 2)).toBe(2 * w);
      expect(inkIn(dots, 0, h - 2, w, h)).toBe(2 * w);
      expect(inkIn(dots, 0, 0, 2, h)).toBe(2 * h);
      if (border === 'frame') expect(inkIn(dots, 4, 4, w - 4, inset)).toBe(0);
      expect(h).toBe(Math.round((w - 2 * inset) / 0.75) + 2 * inset);
    }
  });
  it('words stand under the picture, centred; along the paper they stand at its left', () => {
    const across = developer({ caption: '{number}' }).develop(frame(), caption);
    expect(across.heightDots).toBe(128 + 30);
    expect(inkIn(across, 0, 128, 96, 134)).toBe(0);
    expect(inkIn(across, 30, 134, 66, 158)).toBeGreaterThan(50);
    expect(inkIn(across, 0, 128, 28, 158) + inkIn(across, 68, 128, 96, 158)).toBe(0);
    const along = developer({ caption: '{number}', along: true, aspect: 1.5 }).develop(frame(), caption);
    expect([along.widthDots, along.heightDots]).toEqual([96, 99]);
    expect(inkIn(along, 0, 30, 24, 70)).toBeGreaterThan(50);
    expect(inkIn(along, 0, 0, 30, 25)).toBe(0);
  });
  it('a caption that comes out empty leaves its strip white', () => {
    const dots = developer({ caption: '{date}' }).develop(frame(), { shot: 1, takenAtMs: null });
    expect(inkIn(dots, 0, 128, 96, 158)).toBe(0);
  });
  it('fills in number, date, time and camera; what it doesn’t know stays', () => {
    expect(captionWords('{camera} no. {number}: {date} {time} {smile}', caption, 'slip')).toBe(
      'slip no. 17: 2026-06-20 18:04 {smile}',
    );
    expect(captionWords('{date} {time} {number}', { shot: 3, takenAtMs: null }, 'slip')).toBe('3');
  });
  it('letters: what isn’t in the set is a question mark, accents stay where there is room', () => {
    expect(glyphsOf('ä')[0][0]).not.toBe(0);
    expect(glyphsOf('Ä')).toEqual(glyphsOf('A'));
    expect(glyphsOf('ß')).toEqual(glyphsOf('ss'));
    expect(glyphsOf('漢')).toEqual(glyphsOf('?'));
    expect(glyphsOf('\u0308')).toEqual([]);
    const all = Array.from({ length: 95 }, (_, i) => String.fromCharCode(32 + i));
    const shapes = all.map(letter => glyphsOf(letter)[0].join(' '));
    expect(new Set(shapes).size).toBe(95);
    for (const rows of all.map(letter => glyphsOf(letter)[0])) {
      expect(rows.length).toBe(8);
      expect(Math.max(...rows)).toBeLessThan(32);
    }
  });
  it('sixty letters fit, smaller', () => {
    const dots = developer({ caption: 'm'.repeat(60) }, quick, 384).develop(frame(), caption);
    expect(inkIn(dots, 0, 512, 384, 542)).toBeGreaterThan(200);
    expect(inkIn(dots, 383, 512, 384, 542)).toBe(0);
  });
});

describe('looks', () => {
  it('own ones come before those that come along; an unknown one says what there is', () => {
    const mine = lookSchema.parse({ gamma: 2 });
    expect(resolveLook({ look: 'soft', looks: { soft: mine } })).toBe(mine);
    try {
      resolveLook({ look: 'sfot', looks: { mine } });
      expect.unreachable();
    } catch (error) {
      expect(isFault(error) && error.code === 'config' && error.mend).toMatch(/mine, soft, hard/);
    }
  });
});

describe('rows of bits', () => {
  it('packed at any place they are the bits that were given', () => {
    const bits = { width: 21, height: 3, data: Uint8Array.from({ length: 63 }, (_, i) => ((i * i) % 3) & 1) };
    for (const x of [0, 3, 8]) {
      const dots = emptyDots(40, 5);
      packRows(bits, dots, x, 1, 0, 3);
      for (let v = 0; v < 5; v++)
        for (let u = 0; u < 40; u++)
          expect(bit(dots, u, v)).toBe(v < 1 || v > 3 || u < x || u >= x + 21 ? 0 : bits.data[(v - 1) * 21 + u - x]);
    }
  });
});

describe('paper as drawn', () => {
  it('one dot is a round spot of its area; bare paper is bright, solid ink dark', () => {
    const dots = emptyDots(16, 16);
    const draw = createPaperView(0.65, 3, 4);
    const blank = draw(dots);
    expect([blank.widthPx, blank.heightPx]).toEqual([72, 72]);
    expect(new Set(blank.data).size).toBe(1);
    dots.data[8 * dots.strideBytes + 1] = 0x80;
    const spot = draw(dots);
    const [paper, ink] = [linearTable[blank.data[0]], 0.035];
    const inked = spot.data.reduce((sum, code) => sum + (paper - linearTable[code]) / (paper - ink), 0) / 9;
    const coverage = coverageOfPatterns(0.65);
    expect(inked).toBeCloseTo(
      [0, 1, 2, 3, 4, 5, 6, 7, 8].reduce((sum, k) => sum + coverage[1 << k], 0),
      1,
    );
    // The middle of dot (8, 8) with a margin of 4, three pixels a dot.
    expect(spot.data[37 * 72 + 37]).toBeLessThan(80);
    dots.data.fill(255);
    expect(draw(dots).data[36 * 72 + 36]).toBeLessThan(70);
  });
});
