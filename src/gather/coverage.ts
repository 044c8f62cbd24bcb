import type { Dots } from '../parts/darkroom.ts';

const subSamples = 16;

/** Share of a cell that is inked, for each of the 512 patterns of the cell and its eight neighbours (row by row, first neighbour in the highest bit), when dots are round and of `radiusDots`. */
export const coverageTable = (radiusDots: number): Float32Array => {
  const table = new Float32Array(512);
  for (let pattern = 0; pattern < 512; pattern++) {
    let inked = 0;
    for (let sy = 0; sy < subSamples; sy++)
      for (let sx = 0; sx < subSamples; sx++) {
        const x = (sx + 0.5) / subSamples - 0.5;
        const y = (sy + 0.5) / subSamples - 0.5;
        for (let n = 0; n < 9; n++) {
          if (!((pattern >> (8 - n)) & 1)) continue;
          if (Math.hypot(x - ((n % 3) - 1), y - (Math.floor(n / 3) - 1)) < radiusDots) {
            inked++;
            break;
          }
        }
      }
    table[pattern] = inked / subSamples ** 2;
  }
  return table;
};

/** Share of each cell that is bare paper, 0…1; outside the picture is paper. */
export const bareShare = ({ widthDots, heightDots, strideBytes, data }: Dots, radiusDots: number): Float32Array => {
  const table = coverageTable(radiusDots);
  const stride = widthDots + 2;
  const bits = new Uint8Array(stride * (heightDots + 2));
  for (let y = 0; y < heightDots; y++)
    for (let x = 0; x < widthDots; x++)
      bits[(y + 1) * stride + x + 1] = (data[y * strideBytes + (x >> 3)] >> (7 - (x & 7))) & 1;
  const bare = new Float32Array(widthDots * heightDots);
  for (let y = 0; y < heightDots; y++) {
    for (let x = 0; x < widthDots; x++) {
      const i = (y + 1) * stride + x + 1;
      const pattern =
        (bits[i - stride - 1] << 8) |
        (bits[i - stride] << 7) |
        (bits[i - stride + 1] << 6) |
        (bits[i - 1] << 5) |
        (bits[i] << 4) |
        (bits[i + 1] << 3) |
        (bits[i + stride - 1] << 2) |
        (bits[i + stride] << 1) |
        bits[i + stride + 1];
      bare[y * widthDots + x] = 1 - table[pattern];
    }
  }
  return bare;
};
