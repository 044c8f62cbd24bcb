import { Fault } from '../parts/fault.ts';
import type { Frame } from '../parts/webcam.ts';
import { decodeJpeg, type Rgba } from './jpeg.ts';

/** Full-range luma, one byte a pixel. */
export interface Luma {
  widthPx: number;
  heightPx: number;
  data: Uint8Array;
}

/** BT.601 limited range to full: (Y − 16) · 255 / 219. */
const fullOfLimited = Uint8Array.from({ length: 256 }, (_, y) =>
  Math.min(255, Math.max(0, Math.round(((y - 16) * 255) / 219))),
);

/** Y′ = 0.299 R + 0.587 G + 0.114 B (ITU-R BT.601), in 16-bit fixed point. */
export const lumaOfRgba = ({ widthPx, heightPx, data }: Rgba, buffer: Uint8Array = new Uint8Array(0)): Luma => {
  const into = buffer.length === widthPx * heightPx ? buffer : new Uint8Array(widthPx * heightPx);
  for (let i = 0, p = 0; i < into.length; i++, p += 4)
    into[i] = (data[p] * 19595 + data[p + 1] * 38470 + data[p + 2] * 7471 + 32768) >> 16;
  return { widthPx, heightPx, data: into };
};

/** Luma of a webcam's frame, in `buffer` where that has the right length. Throws a `Fault` when the frame is shorter than its size says, or can't be decoded. */
export const lumaOf = (frame: Frame, buffer: Uint8Array = new Uint8Array(0)): Luma => {
  const { format, widthPx, heightPx, strideBytes, range, data } = frame;
  if (format === 'MJPEG') return lumaOfRgba(decodeJpeg(data), buffer);
  const step = format === 'YUYV' ? 2 : 1;
  const stride = strideBytes || widthPx * step;
  if (data.length < stride * (heightPx - 1) + widthPx * step)
    throw new Fault(
      'unreadable',
      `a ${format} frame of ${widthPx} × ${heightPx} came with ${data.length} bytes only`,
      'ask the webcam for another size or format',
    );
  const out = buffer.length === widthPx * heightPx ? buffer : new Uint8Array(widthPx * heightPx);
  for (let y = 0, i = 0; y < heightPx; y++) {
    let p = y * stride;
    if (range === 'limited') for (let x = 0; x < widthPx; x++, p += step) out[i++] = fullOfLimited[data[p]];
    else for (let x = 0; x < widthPx; x++, p += step) out[i++] = data[p];
  }
  return { widthPx, heightPx, data: out };
};
