import type { Dots } from '../../parts/darkroom.ts';

/** A bitmap of one byte a dot while it is worked on: 1 is black. */
export interface Bitmap {
  width: number;
  height: number;
  data: Uint8Array;
}

/** Packs rows, most significant bit leftmost. */
export const packDots = ({ width, height, data }: Bitmap): Dots => {
  const strideBytes = (width + 7) >> 3;
  const packed = new Uint8Array(strideBytes * height);
  for (let y = 0; y < height; y++) {
    const from = y * width;
    const to = y * strideBytes;
    for (let x = 0; x < width; x++) packed[to + (x >> 3)] |= data[from + x] << (7 - (x & 7));
  }
  return { widthDots: width, heightDots: height, strideBytes, data: packed };
};

/** Fills `into` from the wanted share of dots `ink` (0…1, row by row). */
export type Halftone = (ink: Float32Array, into: Bitmap) => void;
