import type { Dots } from '../../parts/darkroom.ts';
import type { Bitmap } from '../../picture/halftone/bits.ts';
import { wedgeHalftone } from '../../picture/paper.ts';
import { emptyDots, packRows } from '../../picture/strip.ts';
import { keyBits, layOutWedge, type Patch } from './layout.ts';

/** Diffusion needs a few rows to settle: patches are cut from the middle of larger ones. */
const run = 16;

/** The dots of one patch. */
export const patchBits = ({ size, share }: Patch): Bitmap => {
  const side = size + 2 * run;
  const large: Bitmap = { width: side, height: side, data: new Uint8Array(side * side) };
  wedgeHalftone()(new Float32Array(side * side).fill(share), large);
  const data = new Uint8Array(size * size);
  for (let y = 0; y < size; y++)
    data.set(large.data.subarray((y + run) * side + run, (y + run) * side + run + size), y * size);
  return { width: size, height: size, data };
};

const solid = (width: number, height: number): Bitmap => ({
  width,
  height,
  data: new Uint8Array(width * height).fill(1),
});

/** The step wedge as dots. Throws a `Fault` for a printer that is too narrow. */
export const drawWedge = (widthDots: number): Dots => {
  const { heightDots, frame, key, patches } = layOutWedge(widthDots);
  const dots = emptyDots(widthDots, heightDots);
  const put = (bitmap: Bitmap, x: number, y: number) => packRows(bitmap, dots, x, y, 0, bitmap.height);
  const { x, y, width, height, thickness } = frame;
  const across = solid(width, thickness);
  const down = solid(thickness, height);
  put(across, x, y);
  put(across, x, y + height - thickness);
  put(down, x, y);
  put(down, x + width - thickness, y);
  keyBits(widthDots).forEach((bit, i) => {
    if (bit) put(solid(key.size, key.size), key.x + i * key.pitch, key.y);
  });
  for (const patch of patches) put(patchBits(patch), patch.x, patch.y);
  return dots;
};
