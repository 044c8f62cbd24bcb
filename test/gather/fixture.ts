import type { Chance } from '../../sim/random.ts';
import { stack } from '../../sim/scanner/raster.ts';
import type { Dots } from '../../src/parts/darkroom.ts';
import { encodeCode128 } from '../../src/print/code128.ts';
import { createImprint } from '../../src/print/imprint.ts';

/** A tone image made up of soft blobs and edges: 0 black … 1 white. */
export const toneImage = (widthDots: number, heightDots: number, chance: Chance): Float32Array => {
  const tone = new Float32Array(widthDots * heightDots);
  const blobs = Array.from({ length: 14 }, () => ({
    x: chance.next() * widthDots,
    y: chance.next() * heightDots,
    r: 20 + chance.next() * 120,
    v: chance.next() * 1.4 - 0.7,
    sharp: chance.hit(0.5),
  }));
  for (let y = 0; y < heightDots; y++)
    for (let x = 0; x < widthDots; x++) {
      let value = 0.55 + 0.2 * Math.sin(x / 90) * Math.cos(y / 70);
      for (const { x: bx, y: by, r, v, sharp } of blobs) {
        const d = Math.hypot(x - bx, y - by) / r;
        value += sharp ? (d < 1 ? v * 0.5 : 0) : v * Math.exp(-d * d);
      }
      tone[y * widthDots + x] = Math.min(0.97, Math.max(0.03, value));
    }
  return tone;
};

/** Plain Floyd–Steinberg, for scans alone: the camera's own halftones are tested elsewhere. */
export const diffuse = (tone: Float32Array, widthDots: number, heightDots: number): Dots => {
  const strideBytes = Math.ceil(widthDots / 8);
  const data = new Uint8Array(strideBytes * heightDots);
  const left = Float32Array.from(tone);
  for (let y = 0; y < heightDots; y++)
    for (let x = 0; x < widthDots; x++) {
      const at = y * widthDots + x;
      const white = left[at] >= 0.5;
      if (!white) data[y * strideBytes + (x >> 3)] |= 0x80 >> (x & 7);
      const error = left[at] - (white ? 1 : 0);
      if (x + 1 < widthDots) left[at + 1] += (error * 7) / 16;
      if (y + 1 < heightDots) {
        if (x > 0) left[at + widthDots - 1] += (error * 3) / 16;
        left[at + widthDots] += (error * 5) / 16;
        if (x + 1 < widthDots) left[at + widthDots + 1] += error / 16;
      }
    }
  return { widthDots, heightDots, strideBytes, data };
};

export interface StripPicture {
  shot: number;
  body: Dots;
}

/** Pictures with their imprints under each other, as the printer leaves them. */
export const stripOf = (pictures: readonly StripPicture[], mark = 'SLIP'): { dots: Dots; bodyTops: number[] } => {
  const { widthDots } = pictures[0].body;
  const imprint = createImprint({ widthDots, mark, encode: encodeCode128 });
  const white: Dots = {
    widthDots,
    heightDots: 40,
    strideBytes: Math.ceil(widthDots / 8),
    data: new Uint8Array(40 * Math.ceil(widthDots / 8)),
  };
  const parts = pictures.flatMap(({ shot, body }) => [imprint.head, body, imprint.tail(shot), white]);
  const { dots, tops } = stack(parts, widthDots);
  return { dots, bodyTops: pictures.map((_, index) => tops[index * 4 + 1]) };
};
