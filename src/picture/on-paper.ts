import type { Dots } from '../parts/darkroom.ts';
import type { Luma } from './luma.ts';
import { codedOf } from './transfer.ts';

/** Reflectance of bare paper and of solid ink in pictures of it: common values, no source. */
const paperLight = 0.9;
const inkLight = 0.035;
const samples = 8;

/** Codes of a cell's pixels, for each of the 512 patterns of it and its neighbours: [pattern · pixels + pixel]. */
const cellCodes = (radiusDots: number, pxPerDot: number): Uint8Array => {
  const pixels = pxPerDot * pxPerDot;
  const table = new Uint8Array(512 * pixels);
  const fine = pxPerDot * samples;
  const inked = new Float32Array(pixels);
  const near = Uint16Array.from({ length: fine * fine }, (_, s) => {
    const x = ((s % fine) + 0.5) / fine - 0.5;
    const y = (Math.floor(s / fine) + 0.5) / fine - 0.5;
    let reached = 0;
    for (let n = 0; n < 9; n++)
      if ((x - (n % 3) + 1) ** 2 + (y - Math.floor(n / 3) + 1) ** 2 < radiusDots ** 2) reached |= 256 >> n;
    return reached;
  });
  for (let pattern = 0; pattern < 512; pattern++) {
    inked.fill(0);
    for (let s = 0; s < near.length; s++)
      if (pattern & near[s])
        inked[Math.floor(Math.floor(s / fine) / samples) * pxPerDot + Math.floor((s % fine) / samples)]++;
    for (let p = 0; p < pixels; p++) {
      const share = inked[p] / samples ** 2;
      table[pattern * pixels + p] = Math.round(255 * codedOf(paperLight + (inkLight - paperLight) * share));
    }
  }
  return table;
};

/** Draws dots as they will look on paper: round, of the printer's radius, overlapping; `marginDots` of bare paper around. */
export const createPaperView = (radiusDots: number, pxPerDot: number, marginDots: number): ((dots: Dots) => Luma) => {
  const codes = cellCodes(radiusDots, pxPerDot);
  const pixels = pxPerDot * pxPerDot;
  return ({ widthDots, heightDots, strideBytes, data }) => {
    const [across, down] = [widthDots + 2 * marginDots, heightDots + 2 * marginDots];
    const [widthPx, heightPx] = [across * pxPerDot, down * pxPerDot];
    const out = new Uint8Array(widthPx * heightPx);
    const bit = (x: number, y: number) =>
      x < 0 || y < 0 || x >= widthDots || y >= heightDots ? 0 : (data[y * strideBytes + (x >> 3)] >> (7 - (x & 7))) & 1;
    for (let y = -marginDots; y < heightDots + marginDots; y++) {
      // The window slides: three columns of three bits.
      let window = 0;
      for (let x = -marginDots - 1; x <= widthDots + marginDots; x++) {
        const column = (bit(x, y - 1) << 6) | (bit(x, y) << 3) | bit(x, y + 1);
        window = ((window << 1) & 0b110110110) | column;
        if (x < -marginDots + 1) continue;
        const to = (y + marginDots) * pxPerDot * widthPx + (x - 1 + marginDots) * pxPerDot;
        for (let p = 0; p < pixels; p++)
          out[to + Math.floor(p / pxPerDot) * widthPx + (p % pxPerDot)] = codes[window * pixels + p];
      }
    }
    return { widthPx, heightPx, data: out };
  };
};
