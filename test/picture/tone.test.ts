import { describe, expect, it } from 'vitest';
import {
  along,
  coverageOfPatterns,
  gainOf,
  inkOfReflectance,
  inkOfReflectanceYn,
  meanInk,
  murrayDavies,
  tableOf,
  turned,
  yuleNielsen,
} from '../../src/picture/dot-gain.ts';
import { halftoneOf } from '../../src/picture/halftone/named.ts';
import { createPaper, wedgeHalftone } from '../../src/picture/paper.ts';
import { clippedMapping, createTone, type Tone } from '../../src/picture/tone.ts';

/** Codes of rows of `width` after what is done to them. */
const changed = (codes: ArrayLike<number>, width: number, change: (tone: Tone) => void): Float32Array => {
  const tone = createTone(width, codes.length / width);
  tone.codes.set(codes);
  change(tone);
  return tone.codes;
};

describe('contrast-limited equalisation (Zuiderveld, Graphics Gems IV, 1994)', () => {
  it('a worked example: what is clipped is shared out over all bins, the sum maps codes', () => {
    // 16 pixels in 4 bins, limit 6: 4 over the limit, one more for each bin; sums 7, 12, 15, 16 of 16.
    const counts = Float32Array.of(10, 4, 2, 0);
    const map = new Float32Array(4);
    clippedMapping(counts, 6, 16, map);
    expect([...map]).toEqual([7, 12, 15, 16].map(sum => expect.closeTo((sum / 16) * 255, 3)));
  });
  it('without a limit that bites it is plain equalisation', () => {
    const map = new Float32Array(4);
    clippedMapping(Float32Array.of(1, 1, 1, 1), 4, 4, map);
    expect([...map].map(Math.round)).toEqual([64, 128, 191, 255]);
  });
  it('strength 0 leaves a picture alone; an even picture stays even; order of tones within a place is kept', () => {
    const wave = Float32Array.from({ length: 64 * 64 }, (_, i) => 100 + 20 * Math.sin(i / 5));
    expect(changed(wave, 64, tone => tone.equaliseLocally(0))).toEqual(wave);
    const even = changed(new Float32Array(64 * 64).fill(77), 64, tone => tone.equaliseLocally(1));
    expect(Math.max(...even) - Math.min(...even)).toBeLessThan(1);
    const spread = (codes: Float32Array) => Math.max(...codes) - Math.min(...codes);
    expect(spread(changed(wave, 64, tone => tone.equaliseLocally(0.8)))).toBeGreaterThan(spread(wave));
  });
});

describe('levels and curves', () => {
  it('full levels reach both ends and lift a dim picture', () => {
    const dim = Float32Array.from({ length: 1000 }, (_, i) => 10 + (i / 1000) * 60);
    const lifted = changed(dim, 50, tone => tone.stretchLevels(1));
    expect(Math.min(...lifted)).toBeCloseTo(0, 0);
    expect(Math.max(...lifted)).toBeCloseTo(255, 0);
    expect(lifted.reduce((a, b) => a + b) / 1000).toBeGreaterThan(100);
  });
  it('never stretch the noise of an even picture', () => {
    const even = Float32Array.from({ length: 1000 }, (_, i) => 120 + (i % 3));
    const codes = changed(even, 50, tone => tone.stretchLevels(1));
    expect(Math.max(...codes) - Math.min(...codes)).toBeLessThan(20);
  });
  it('strength 0 and neutral curves change nothing', () => {
    const codes = changed([3, 70.5, 200], 3, tone => {
      tone.stretchLevels(0);
      tone.bend({ gamma: 1, contrast: 1, invert: false });
    });
    expect([...codes]).toEqual([3, 70.5, 200]);
  });
  it('gamma, contrast, negative', () => {
    const bent = (settings: Partial<Parameters<Tone['bend']>[0]>, code: number) =>
      changed([code], 1, tone => tone.bend({ gamma: 1, contrast: 1, invert: false, ...settings }))[0];
    expect(bent({ gamma: 0.5 }, 64)).toBeCloseTo(255 * Math.sqrt(64 / 255), 1);
    expect(bent({ contrast: 2 }, 127.5)).toBeCloseTo(127.5, 1);
    expect(bent({ contrast: 2 }, 160)).toBeCloseTo(192.5, 1);
    expect(bent({ invert: true }, 55)).toBeCloseTo(200, 3);
  });
  it('sharpening leaves flats alone and steepens an edge', () => {
    const step = Float32Array.from({ length: 64 }, (_, i) => (i % 8 < 4 ? 100 : 150));
    expect(changed(step, 8, tone => tone.sharpen(0))[27]).toBe(100);
    const codes = changed(step, 8, tone => tone.sharpen(1));
    expect([codes[25], codes[27], codes[28], codes[30]]).toEqual([100, 87.5, 162.5, 150]);
  });
  it.each([
    [1, 7],
    [2, 3],
    [5, 1],
    [8, 8],
    [23, 9],
  ])('sharpening %i × %i is what the definition says at each place, edges repeated', (width, height) => {
    const codes = Float32Array.from({ length: width * height }, (_, i) => 128 + 100 * Math.sin(i * 1.7));
    const near = (x: number, y: number) =>
      codes[Math.min(height - 1, Math.max(0, y)) * width + Math.min(width - 1, Math.max(0, x))];
    changed(codes, width, tone => tone.sharpen(0.7)).forEach((value, i) => {
      const [x, y] = [i % width, Math.floor(i / width)];
      let soft = 0;
      for (const dy of [-1, 0, 1])
        for (const dx of [-1, 0, 1]) soft += (near(x + dx, y + dy) * (2 - Math.abs(dx)) * (2 - Math.abs(dy))) / 16;
      expect(value).toBeCloseTo(Math.min(255, Math.max(0, codes[i] + 0.7 * (codes[i] - soft))), 3);
    });
  });
  it('edges are dark on white', () => {
    const step = Float32Array.from({ length: 64 }, (_, i) => (i % 8 < 4 ? 50 : 200));
    const codes = changed(step, 8, tone => tone.drawEdges(1));
    expect([codes[25], codes[27], codes[28], codes[30]]).toEqual([255, 0, 0, 255]);
  });
});

describe('dot gain (worked values calculated from the published formulas)', () => {
  it('Murray–Davies: half ink on 0.80 / 0.04 is 0.420', () => {
    expect(murrayDavies(0.5, 0.04, 0.8)).toBeCloseTo(0.42, 3);
    expect(inkOfReflectance(0.42, 0.04, 0.8)).toBeCloseTo(0.5, 9);
  });
  it('Yule–Nielsen: the same with n = 2 is 0.299; n = 1 is Murray–Davies', () => {
    expect(yuleNielsen(0.5, 0.04, 0.8, 2)).toBeCloseTo(0.299, 3);
    expect(yuleNielsen(0.3, 0.04, 0.8, 1)).toBeCloseTo(murrayDavies(0.3, 0.04, 0.8), 12);
  });
  it('by density: tint 0.30 and solid 1.30 are 0.525 ink, 0.376 with n = 2', () => {
    const [tint, solid] = [10 ** -0.3, 10 ** -1.3];
    expect(inkOfReflectance(tint, solid, 1)).toBeCloseTo(0.525, 3);
    expect(inkOfReflectanceYn(tint, solid, 1, 2)).toBeCloseTo(0.376, 3);
  });
  it('one round dot inks π·r² over its own cell and its neighbours’', () => {
    for (const radius of [0.5, 0.65, 0.8, 1]) {
      const coverage = coverageOfPatterns(radius);
      const sum = Array.from({ length: 9 }, (_, k) => coverage[1 << k]).reduce((a, b) => a + b, 0);
      expect(sum).toBeCloseTo(Math.PI * radius ** 2, 2);
      expect(coverage[0]).toBe(0);
    }
    expect(coverageOfPatterns(0.71)[511]).toBe(1);
  });
  it('more dots are never less ink, and curves turn back', () => {
    for (const name of ['floyd-steinberg', 'zhou-fang', 'bayer'] as const) {
      const gain = gainOf(halftoneOf(name, 1), 0.65);
      gain.slice(1).forEach(([, ink], i) => {
        expect(ink).toBeGreaterThanOrEqual(gain[i][1]);
      });
      for (const share of [0.1, 0.4, 0.8]) expect(along(turned(gain), along(gain, share))).toBeCloseTo(share, 1.5);
    }
    expect(
      along(
        [
          [0, 0],
          [0, 0.5],
          [1, 1],
        ],
        0,
      ),
    ).toBe(0);
  });
  it('asked through the tables, flats come out at the ink that was wanted', () => {
    const halftone = halftoneOf('zhou-fang', 1);
    const { dotsForLight } = createPaper({ dotRadius: 0.65, toneCurve: [] }, halftone);
    const coverage = coverageOfPatterns(0.65);
    for (const ink of [0.125, 0.25, 0.5, 0.75]) {
      const bitmap = { width: 128, height: 128, data: new Uint8Array(128 * 128) };
      halftone(new Float32Array(128 * 128).fill(dotsForLight[Math.round((1 - ink) * 1024)]), bitmap);
      expect(meanInk(bitmap, coverage, 8)).toBeCloseTo(ink, 1.7);
    }
  });
  it('a measured curve is undone: real ink is the wanted ink, for the wedge’s own halftone', () => {
    const measured: [number, number][] = [0, 0.1, 0.25, 0.5, 0.75, 1].map(share => [share, share ** 0.5]);
    const { dotsForLight, inkForLight } = createPaper({ dotRadius: 0.65, toneCurve: measured }, wedgeHalftone());
    for (const ink of [0.4, 0.6, 0.8]) {
      expect(along(measured, dotsForLight[Math.round((1 - ink) * 1024)])).toBeCloseTo(ink, 1.5);
      // A printer with more gain than the model gets less ink asked on the model.
      expect(inkForLight[Math.round((1 - ink) * 1024)]).toBeLessThan(ink);
    }
    expect([dotsForLight[0], dotsForLight[1024]]).toEqual([1, 0]);
  });
  it('tables stay within 0 and 1', () => {
    const table = tableOf(at => 3 * at - 1);
    expect([table[0], table[1024], table.length]).toEqual([0, 1, 1025]);
  });
});
