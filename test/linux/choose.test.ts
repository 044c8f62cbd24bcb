import { describe, expect, it } from 'vitest';
import { type Mode, rankModes, sizesFor, type WantedMode } from '../../src/linux/v4l2/choose.ts';

const wanted: WantedMode = { format: 'auto', widthPx: 1280, heightPx: 720, framesPerSecond: 30 };
const mode = (format: Mode['format'], widthPx: number, heightPx: number, framesPerSecond: number | null): Mode => ({
  format,
  code: 0,
  widthPx,
  heightPx,
  framesPerSecond,
});
const best = (modes: Mode[], change: Partial<WantedMode> = {}) => {
  const [first] = rankModes(modes, { ...wanted, ...change });
  return first && `${first.format} ${first.widthPx}×${first.heightPx}`;
};

describe('choosing a mode', () => {
  // Common practice, no source: a USB 2 webcam gives large pictures fast only as JPEG.
  const usual = [
    mode('YUYV', 640, 480, 30),
    mode('YUYV', 1280, 720, 10),
    mode('MJPEG', 640, 480, 30),
    mode('MJPEG', 1280, 720, 30),
    mode('MJPEG', 1920, 1080, 30),
  ];

  it('takes the wanted size at the wanted rate, though it is JPEG', () => expect(best(usual)).toBe('MJPEG 1280×720'));
  it('takes raw pixels where size and rate are the same', () =>
    expect(best(usual, { widthPx: 640, heightPx: 480 })).toBe('YUYV 640×480'));
  it('takes the format that is asked for, whatever it costs', () =>
    expect(best(usual, { format: 'YUYV', framesPerSecond: 10 })).toBe('YUYV 1280×720'));
  it('takes the largest where none holds the wanted size', () =>
    expect(best(usual, { widthPx: 4000, heightPx: 3000 })).toBe('MJPEG 1920×1080'));
  it('takes the smallest that holds it', () =>
    expect(best([mode('GREY', 1920, 1080, 30), mode('GREY', 1600, 900, 30)])).toBe('GREY 1600×900'));
  it('prefers a rate a little lower to a smaller picture', () =>
    expect(best([mode('YUYV', 640, 480, 30), mode('YUYV', 1280, 720, 25)])).toBe('YUYV 1280×720'));
  it('trusts a driver that lists no rates', () => expect(best([mode('YUYV', 1280, 720, null)])).toBe('YUYV 1280×720'));
  it('finds none where the format isn’t offered', () => expect(best(usual, { format: 'GREY' })).toBeUndefined());

  it('snaps the wanted size to the steps of the driver', () => {
    const width = { least: 2, most: 4096, step: 16 };
    const height = { least: 1, most: 500, step: 1 };
    expect(sizesFor([{ kind: 'steps', width, height }], wanted)).toEqual([{ widthPx: 1282, heightPx: 500 }]);
    expect(sizesFor([{ kind: 'exact', widthPx: 640, heightPx: 480 }], wanted)).toEqual([
      { widthPx: 640, heightPx: 480 },
    ]);
  });
});
