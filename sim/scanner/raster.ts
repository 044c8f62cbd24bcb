import type { Grey } from '../../src/gather/grey.ts';
import { createGrey } from '../../src/gather/grey.ts';
import type { Dots } from '../../src/parts/darkroom.ts';

/** Sub-pixels a dot of the ink raster. */
export const perDot = 6;
/** Bare paper around the dots, since round dots reach beyond the outermost cells. */
export const padDots = 2;

/** Dots under each other on one strip, centred; `tops` are the first rows of each. */
export const stack = (parts: readonly Dots[], widthDots: number): { dots: Dots; tops: number[] } => {
  const strideBytes = Math.ceil(widthDots / 8);
  const heightDots = parts.reduce((sum, part) => sum + part.heightDots, 0);
  const data = new Uint8Array(strideBytes * heightDots);
  const tops: number[] = [];
  let top = 0;
  for (const part of parts) {
    tops.push(top);
    data.set(part.data.subarray(0, part.strideBytes * part.heightDots), top * strideBytes);
    top += part.heightDots;
  }
  return { dots: { widthDots, heightDots, strideBytes, data }, tops };
};

/** Round dots that overlap, as coverage at `perDot` sub-pixels a dot: 0 is ink, 255 bare paper; padded by `padDots`. */
export const inkRaster = ({ widthDots, heightDots, strideBytes, data }: Dots, radiusDots: number): Grey => {
  const raster = createGrey((widthDots + 2 * padDots) * perDot, (heightDots + 2 * padDots) * perDot);
  raster.data.fill(255);
  const reach = Math.ceil(radiusDots * perDot);
  const stamp: number[] = [];
  for (let dy = -reach; dy < reach; dy++)
    for (let dx = -reach; dx < reach; dx++)
      if (Math.hypot(dx + 0.5, dy + 0.5) < radiusDots * perDot) stamp.push(dx, dy);
  for (let y = 0; y < heightDots; y++)
    for (let x = 0; x < widthDots; x++) {
      if (!((data[y * strideBytes + (x >> 3)] >> (7 - (x & 7))) & 1)) continue;
      const cx = (x + padDots + 0.5) * perDot;
      const cy = (y + padDots + 0.5) * perDot;
      for (let i = 0; i < stamp.length; i += 2) {
        const px = cx + stamp[i];
        const py = cy + stamp[i + 1];
        if (px >= 0 && py >= 0 && px < raster.widthPx && py < raster.heightPx)
          raster.data[py * raster.widthPx + px] = 0;
      }
    }
  return raster;
};
