import type { PixelFormat } from '../../parts/webcam.ts';
import type { SizeRange } from './uapi.ts';

/** A mode that the webcam offers; `framesPerSecond` null where the driver lists no intervals. */
export interface Mode {
  format: PixelFormat;
  code: number;
  widthPx: number;
  heightPx: number;
  framesPerSecond: number | null;
}

export interface WantedMode {
  format: 'auto' | PixelFormat;
  widthPx: number;
  heightPx: number;
  framesPerSecond: number;
}

const snap = (wanted: number, { least, most, step }: { least: number; most: number; step: number }): number => {
  const within = Math.min(most, Math.max(least, wanted));
  return Math.min(most, least + Math.ceil((within - least) / Math.max(1, step)) * Math.max(1, step));
};

/** The size out of what is offered that is taken for the wanted one. */
export const sizesFor = (ranges: readonly SizeRange[], wanted: WantedMode): { widthPx: number; heightPx: number }[] =>
  ranges.map(range =>
    range.kind === 'exact'
      ? { widthPx: range.widthPx, heightPx: range.heightPx }
      : { widthPx: snap(wanted.widthPx, range.width), heightPx: snap(wanted.heightPx, range.height) },
  );

/** Bytes as they come are better than bytes to decode; grey alone is half of them. */
const liking: Record<PixelFormat, number> = { GREY: 0, YUYV: 1, MJPEG: 2 };

/** A rate a little lower is better than a smaller picture. */
const nearEnough = 0.8;

/**
 * Modes in the order in which they should be tried: those near the wanted rate first; of these the smallest that holds
 * the wanted size, else the largest; of these the format that costs least to read.
 */
export const rankModes = (modes: readonly Mode[], wanted: WantedMode): Mode[] => {
  const slow = ({ framesPerSecond }: Mode) =>
    framesPerSecond === null || framesPerSecond >= wanted.framesPerSecond * nearEnough ? 0 : 1;
  const small = ({ widthPx, heightPx }: Mode) => (widthPx >= wanted.widthPx && heightPx >= wanted.heightPx ? 0 : 1);
  const pixels = ({ widthPx, heightPx }: Mode) => widthPx * heightPx;
  return modes
    .filter(({ format }) => wanted.format === 'auto' || format === wanted.format)
    .sort(
      (a, b) =>
        slow(a) - slow(b) ||
        small(a) - small(b) ||
        (small(a) === 0 ? pixels(a) - pixels(b) : pixels(b) - pixels(a)) ||
        liking[a.format] - liking[b.format],
    );
};
