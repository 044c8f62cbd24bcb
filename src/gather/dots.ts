import type { Dots } from '../parts/darkroom.ts';
import { solve } from './homography.ts';
import type { Lattice } from './lattice.ts';
import { marginDots, perDot } from './lattice.ts';
import { createLevels, samplesPerCell } from './levels.ts';
import type { Ink } from './light.ts';

/** Darkness within each cell of the lattice, `samplesPerCell` values a cell, row by row. */
export const cellInk = (
  { width, height, data }: Ink,
  { heightDots, rowEdges, shifts }: Lattice,
  widthDots: number,
): Float32Array => {
  const cells = new Float32Array(widthDots * heightDots * samplesPerCell);
  let at = 0;
  for (let row = 0; row < heightDots; row++) {
    const top = rowEdges[row];
    const step = (rowEdges[row + 1] - top) / 3;
    for (let column = 0; column < widthDots; column++) {
      const left = (column + marginDots) * perDot + shifts[row];
      for (let sy = 0; sy < 3; sy++) {
        const y0 = Math.min(height - 2, Math.max(0, Math.round(top + sy * step)));
        for (let sx = 0; sx < 3; sx++) {
          const x0 = Math.min(width - 2, Math.max(0, Math.round(left + (sx * perDot) / 3)));
          const i = y0 * width + x0;
          cells[at++] = (data[i] + data[i + 1] + data[i + width] + data[i + width + 1]) / 4;
        }
      }
    }
  }
  return cells;
};

/** Otsu's threshold (1979): the value that parts the histogram into two classes with the least spread within. */
const parting = (values: Float32Array): number => {
  const bins = 128;
  const [low, high] = [-1, 2];
  const counts = new Float64Array(bins);
  for (const value of values)
    counts[Math.min(bins - 1, Math.max(0, Math.floor(((value - low) / (high - low)) * bins)))]++;
  let total = 0;
  counts.forEach((n, i) => {
    total += n * i;
  });
  let [below, sum, best, at] = [0, 0, -1, bins / 2];
  for (let i = 0; i < bins - 1; i++) {
    below += counts[i];
    sum += counts[i] * i;
    const above = values.length - below;
    if (below === 0 || above === 0) continue;
    const between = below * above * (sum / below - (total - sum) / above) ** 2;
    if (between > best) [best, at] = [between, i + 1];
  }
  return low + ((high - low) * at) / bins;
};

/** Ink where a cell's middle, sharpened against its four sides, is past half way. */
const firstGuess = (cells: Float32Array, widthDots: number, heightDots: number): Uint8Array => {
  const middleOf = (x: number, y: number) => cells[(y * widthDots + x) * samplesPerCell + 4];
  const sharp = new Float32Array(widthDots * heightDots);
  for (let y = 0; y < heightDots; y++)
    for (let x = 0; x < widthDots; x++) {
      const own = middleOf(x, y);
      // At the picture's edge a cell stands in for the neighbour it lacks.
      const sides =
        middleOf(Math.max(0, x - 1), y) +
        middleOf(Math.min(widthDots - 1, x + 1), y) +
        middleOf(x, Math.max(0, y - 1)) +
        middleOf(x, Math.min(heightDots - 1, y + 1));
      sharp[y * widthDots + x] = own - firstSharpen * (sides / 4 - own);
    }
  const middle = parting(sharp);
  const bits = new Uint8Array(sharp.length);
  for (let i = 0; i < bits.length; i++) bits[i] = sharp[i] > middle ? 1 : 0;
  return bits;
};

/** Means of each neighbourhood; where one was hardly seen, a linear estimate from all of them stands in. */
const fillRare = (looks: Float32Array, sums: Float64Array, counts: Float64Array) => {
  const bit = (pattern: number, n: number) => (pattern >> (8 - n)) & 1;
  for (let k = 0; k < samplesPerCell; k++) {
    const rows = Array.from({ length: 10 }, () => new Array<number>(11).fill(0));
    for (let pattern = 0; pattern < 512; pattern++) {
      if (counts[pattern] === 0) continue;
      const mean = sums[pattern * samplesPerCell + k] / counts[pattern];
      const term = [1, ...Array.from({ length: 9 }, (_, n) => bit(pattern, n))];
      for (let i = 0; i < 10; i++) {
        for (let j = 0; j < 10; j++) rows[i][j] += counts[pattern] * term[i] * term[j];
        rows[i][10] += counts[pattern] * term[i] * mean;
      }
    }
    for (let i = 0; i < 10; i++) rows[i][i] += 1e-3;
    const line = solve(rows) ?? [0, 0, 0, 0, 0, 1, 0, 0, 0, 0];
    for (let pattern = 0; pattern < 512; pattern++) {
      let guess = line[0];
      for (let n = 0; n < 9; n++) guess += line[n + 1] * bit(pattern, n);
      looks[pattern * samplesPerCell + k] = (sums[pattern * samplesPerCell + k] + 10 * guess) / (counts[pattern] + 10);
    }
  }
};

const rounds = 6;
/** Bits that explain their surroundings better than the opposite by less than this are looked at again in each round. */
const doubtful = 1.5;
const ownBit = 1 << 4;
/** Bit of a neighbour's pattern in which a cell stands, the neighbour lying at (dx, dy) from the cell. */
const seenFrom = (dx: number, dy: number) => 1 << (4 + dx + 3 * dy);
/** How much of the neighbours' darkness the first guess takes off again, against blur. */
const firstSharpen = 0.9;

/**
 * Bits of cells whose darkness also depends on their eight neighbours (round dots overlap, optics blur). What each of the
 * 512 neighbourhoods looks like on this very scan is learnt from the bits found so far; then each bit that explains its
 * surroundings better the other way is turned; and so on.
 */
export const decideDots = (cells: Float32Array, widthDots: number, heightDots: number): Dots => {
  const stride = widthDots + 2;
  const bits = new Uint8Array(stride * (heightDots + 2));
  const at = (x: number, y: number) => (y + 1) * stride + x + 1;
  const guess = firstGuess(cells, widthDots, heightDots);
  for (let y = 0; y < heightDots; y++) for (let x = 0; x < widthDots; x++) bits[at(x, y)] = guess[y * widthDots + x];

  const near = [-stride - 1, -stride, -stride + 1, -1, 0, 1, stride - 1, stride, stride + 1];
  /** The neighbourhood of each cell as nine bits, row by row, the first in the highest. */
  const patterns = new Uint16Array(widthDots * heightDots);
  for (let y = 0; y < heightDots; y++)
    for (let x = 0; x < widthDots; x++) {
      let pattern = 0;
      for (let n = 0; n < 9; n++) pattern = (pattern << 1) | bits[at(x, y) + near[n]];
      patterns[y * widthDots + x] = pattern;
    }
  const looks = new Float32Array(512 * samplesPerCell);
  const learn = () => {
    const sums = new Float64Array(512 * samplesPerCell);
    const counts = new Float64Array(512);
    for (let cell = 0; cell < patterns.length; cell++) {
      const [from, to] = [cell * samplesPerCell, patterns[cell] * samplesPerCell];
      for (let k = 0; k < samplesPerCell; k++) sums[to + k] += cells[from + k];
      counts[patterns[cell]]++;
    }
    fillRare(looks, sums, counts);
  };
  const unlike = (cell: number, pattern: number): number => {
    let sum = 0;
    const from = cell * samplesPerCell;
    const look = pattern * samplesPerCell;
    for (let k = 0; k < samplesPerCell; k++) {
      const off = cells[from + k] - looks[look + k];
      sum += off * off;
    }
    return sum;
  };
  const misfits = new Float32Array(patterns.length);
  /** Change of the misfit of a bit's surroundings when it is turned; below 0 it should be. */
  const gainOfTurning = (x: number, y: number): number => {
    let sum = 0;
    for (let cy = Math.max(0, y - 1); cy <= Math.min(heightDots - 1, y + 1); cy++)
      for (let cx = Math.max(0, x - 1); cx <= Math.min(widthDots - 1, x + 1); cx++) {
        const cell = cy * widthDots + cx;
        sum += unlike(cell, patterns[cell] ^ seenFrom(cx - x, cy - y)) - misfits[cell];
      }
    return sum;
  };
  const again = new Uint8Array(patterns.length).fill(1);
  const turn = (x: number, y: number) => {
    for (let cy = Math.max(0, y - 2); cy <= Math.min(heightDots - 1, y + 2); cy++)
      for (let cx = Math.max(0, x - 2); cx <= Math.min(widthDots - 1, x + 2); cx++) {
        const cell = cy * widthDots + cx;
        again[cell] = 1;
        if (Math.abs(cx - x) > 1 || Math.abs(cy - y) > 1) continue;
        patterns[cell] ^= seenFrom(cx - x, cy - y);
        misfits[cell] = unlike(cell, patterns[cell]);
      }
  };
  const levels = createLevels(widthDots, heightDots);
  for (let round = 0; round < rounds; round++) {
    learn();
    levels.even(cells, looks, patterns);
    for (let cell = 0; cell < misfits.length; cell++) misfits[cell] = unlike(cell, patterns[cell]);
    let turned = 0;
    for (let y = 0, cell = 0; y < heightDots; y++)
      for (let x = 0; x < widthDots; x++, cell++) {
        if (!again[cell]) continue;
        const gain = gainOfTurning(x, y);
        again[cell] = gain < doubtful ? 1 : 0;
        if (gain >= 0) continue;
        turn(x, y);
        turned++;
      }
    if (turned === 0) break;
  }
  const strideBytes = Math.ceil(widthDots / 8);
  const data = new Uint8Array(strideBytes * heightDots);
  for (let y = 0; y < heightDots; y++)
    for (let x = 0; x < widthDots; x++)
      if (patterns[y * widthDots + x] & ownBit) data[y * strideBytes + (x >> 3)] |= 0x80 >> (x & 7);
  return { widthDots, heightDots, strideBytes, data };
};
