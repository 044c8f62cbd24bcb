import { Fault } from '../parts/fault.ts';
import type { Frame } from '../parts/webcam.ts';
import { decodeJpegLuma } from './jpeg.ts';
import { codedOf, linearOf, linearTable } from './transfer.ts';

/** Full-range luma, one byte a pixel. */
export interface Luma {
  widthPx: number;
  heightPx: number;
  data: Uint8Array;
}

/** Pixels where they lie, with the linear light that each byte stands for. */
export interface Pixels {
  widthPx: number;
  heightPx: number;
  data: Uint8Array;
  strideBytes: number;
  /** From one luma byte to the next. */
  stepBytes: number;
  /** Linear light 0…1 of each byte. */
  light: Float32Array;
}

/** BT.601 limited range to full 0…1: (Y − 16) / 219. */
const limitedLight = Float32Array.from({ length: 256 }, (_, y) => linearOf(Math.min(1, Math.max(0, (y - 16) / 219))));

/** Y′ = 0.299 R + 0.587 G + 0.114 B (ITU-R BT.601), in 16-bit fixed point, of pixels of four bytes. */
export const lumaOfRgba = (widthPx: number, heightPx: number, rgba: Uint8Array): Luma => {
  const data = new Uint8Array(widthPx * heightPx);
  for (let i = 0, p = 0; i < data.length; i++, p += 4)
    data[i] = (rgba[p] * 19595 + rgba[p + 1] * 38470 + rgba[p + 2] * 7471 + 32768) >> 16;
  return { widthPx, heightPx, data };
};

export const pixelsOfLuma = ({ widthPx, heightPx, data }: Luma): Pixels => ({
  widthPx,
  heightPx,
  data,
  strideBytes: widthPx,
  stepBytes: 1,
  light: linearTable,
});

/**
 * A webcam's frame as pixels, a JPEG's good until the next is decoded. Throws a `Fault` when the frame is shorter than its
 * size says, or can't be decoded.
 */
export const pixelsOf = (frame: Frame): Pixels => {
  const { format, widthPx, heightPx, range, data } = frame;
  if (format === 'MJPEG') return pixelsOfLuma(decodeJpegLuma(data));
  const stepBytes = format === 'YUYV' ? 2 : 1;
  const strideBytes = frame.strideBytes || widthPx * stepBytes;
  if (data.length < strideBytes * (heightPx - 1) + widthPx * stepBytes)
    throw new Fault(
      'unreadable',
      `a ${format} frame of ${widthPx} × ${heightPx} came with ${data.length} bytes only`,
      'ask the webcam for another size or format',
    );
  return { widthPx, heightPx, data, strideBytes, stepBytes, light: range === 'limited' ? limitedLight : linearTable };
};

/** Full-range luma of a webcam's frame. Throws as `pixelsOf` does. */
export const lumaOf = (frame: Frame): Luma => {
  const { widthPx, heightPx, data, strideBytes, stepBytes, light } = pixelsOf(frame);
  const code = Uint8Array.from(light, value => Math.round(codedOf(value) * 255));
  const out = new Uint8Array(widthPx * heightPx);
  for (let y = 0, i = 0; y < heightPx; y++)
    for (let x = 0, p = y * strideBytes; x < widthPx; x++, p += stepBytes) out[i++] = code[data[p]];
  return { widthPx, heightPx, data: out };
};
