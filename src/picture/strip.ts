import type { Caption, Dots } from '../parts/darkroom.ts';
import { captionWords, drawWords } from './caption.ts';
import type { Bitmap } from './halftone/bits.ts';
import type { Layout } from './layout.ts';

export const emptyDots = (widthDots: number, heightDots: number): Dots => {
  const strideBytes = (widthDots + 7) >> 3;
  return { widthDots, heightDots, strideBytes, data: new Uint8Array(strideBytes * heightDots) };
};

/** Packs rows `from` … `to` of a bitmap into dots, the bitmap's corner at (x, y). */
export const packRows = (
  { width, data }: Bitmap,
  { strideBytes, data: packed }: Dots,
  x: number,
  y: number,
  from: number,
  to: number,
): void => {
  for (let row = from; row < to; row++) {
    const line = (y + row) * strideBytes;
    const source = row * width;
    let column = 0;
    if ((x & 7) === 0)
      for (const whole = width & ~7; column < whole; column += 8) {
        const i = source + column;
        packed[line + ((x + column) >> 3)] =
          (data[i] << 7) |
          (data[i + 1] << 6) |
          (data[i + 2] << 5) |
          (data[i + 3] << 4) |
          (data[i + 4] << 3) |
          (data[i + 5] << 2) |
          (data[i + 6] << 1) |
          data[i + 7];
      }
    for (; column < width; column++)
      if (data[source + column]) packed[line + ((x + column) >> 3)] |= 128 >> ((x + column) & 7);
  }
};

/** Border and caption on an empty strip: what doesn't depend on the picture. */
export const drawSurround = (
  layout: Layout,
  dots: Dots,
  pattern: string,
  caption: Caption,
  cameraName: string,
  dotsPerMm: number,
): void => {
  const { line, along } = layout;
  if (line > 0) {
    const words = layout.caption;
    const left = along && words ? words.width : 0;
    const frame = { width: layout.widthDots - left, height: layout.heightDots - (!along && words ? words.height : 0) };
    const data = new Uint8Array(frame.width * frame.height).fill(1);
    const inside = frame.width - 2 * line;
    for (let y = line; y < frame.height - line; y++)
      data.fill(0, y * frame.width + line, y * frame.width + line + inside);
    packRows({ ...frame, data }, dots, left, 0, 0, frame.height);
  }
  const words = captionWords(pattern, caption, cameraName);
  if (!layout.caption || words === '') return;
  // Words stand over the picture's own width, upright as it is held.
  const { x, y, width, height } = layout.caption;
  const [across, down] = along ? [height, width] : [width, height];
  const upright: Bitmap = { width: across, height: down, data: new Uint8Array(across * down) };
  drawWords(words, upright, dotsPerMm);
  if (!along) {
    packRows(upright, dots, x, y, 0, height);
    return;
  }
  const turned: Bitmap = { width, height, data: new Uint8Array(width * height) };
  for (let q = 0; q < down; q++)
    for (let p = 0; p < across; p++) turned.data[p * width + (width - 1 - q)] = upright.data[q * across + p];
  packRows(turned, dots, x, y, 0, height);
};
