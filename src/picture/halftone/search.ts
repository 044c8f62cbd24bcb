import { coverageOfPatterns } from '../dot-gain.ts';
import { eyeCorrelation, eyeGaussians } from '../eye.ts';
import type { Bitmap } from './bits.ts';

/**
 * Direct binary search (Analoui and Allebach, 1992) on the dots as they print: round, overlapping. Dots are turned and
 * exchanged with neighbours as long as what the eye sees of the difference between paper and wanted ink gets smaller.
 *
 * It works down the picture in strips of rows, each pass a strip behind the one before, so that the upper rows are final
 * while the lower ones haven't been looked at: a printer can begin with them.
 */

const reach = 6;
const side = 2 * reach + 1;
const pad = reach + 2;
/** Rows of a strip. */
export const stripRows = 16;
/** A change must be worth this much, or rounding errors would keep dots turning for ever. */
const worth = -1e-5;

export interface Search {
  /** Takes a picture on: `bitmap` is improved in place, `ink` (wanted on paper, 0…1) must stay until it is done. */
  begin(bitmap: Bitmap, ink: Float32Array): void;
  /** Works on the next strip; says how many rows from the top are final now. */
  step(): number;
}

/** @param passes How often each dot is looked at. */
export const createSearch = (radiusDots: number, dotsPerMm: number, passes: number): Search => {
  const coverage = coverageOfPatterns(radiusDots);
  const correlation = eyeCorrelation(dotsPerMm, reach);
  const bells = eyeGaussians(dotsPerMm).map(({ weight, sigmaDots }) => {
    const along = Float32Array.from({ length: side }, (_, i) => Math.exp(-((i - reach) ** 2) / (2 * sigmaDots ** 2)));
    return { along, down: along.map(value => value * weight) };
  });
  const at = (dx: number, dy: number) => correlation[(dy + reach) * side + dx + reach];
  const [c0, c1, c2, c4, c5, c8] = [at(0, 0), at(1, 0), at(1, 1), at(2, 0), at(2, 1), at(2, 2)];
  /** What turning the dot that sits at place k of a cell's pattern does to the cell: [k · 512 + pattern]. */
  const changes = new Float32Array(9 * 512);
  for (let k = 0; k < 9; k++)
    for (let pattern = 0; pattern < 512; pattern++)
      changes[k * 512 + pattern] = coverage[pattern ^ (1 << k)] - coverage[pattern];

  let bitmap: Bitmap = { width: 0, height: 0, data: new Uint8Array(0) };
  let wanted: Float32Array = new Float32Array(0);
  let stride = 0;
  let patterns = new Uint16Array(0);
  /** Difference to the wanted ink as the eye correlates it. */
  let seen = new Float32Array(0);
  /** Where dots were turned in the pass before, in blocks of 8 × 8, and in the pass to come. */
  let stirred: Uint8Array[] = [];
  let blocksAcross = 0;
  let strips = 0;
  let next = 0;
  /** Rows whose first difference is in `seen`. */
  let counted = 0;
  let line = new Float32Array(0);
  let smooth = new Float32Array(0);

  /** Adds the difference of rows up to `until` to `seen`; the eye's two bells are separable, so rows go first. */
  const countRows = (until: number) => {
    const { width } = bitmap;
    for (; counted < until; counted++) {
      const from = (counted + pad) * stride;
      const row = counted * width;
      for (let x = 0; x < width; x++) line[x + 2 * reach] = coverage[patterns[from + pad + x]] - wanted[row + x];
      for (const { along, down } of bells) {
        for (let x = 0; x < width + 2 * reach; x++) {
          let sum = 0;
          for (let k = 0; k < side; k++) sum += along[k] * line[x + k];
          smooth[x] = sum;
        }
        for (let k = 0; k < side; k++) {
          const to = from + (k - reach) * stride + pad - reach;
          const weight = down[k];
          for (let x = 0; x < width + 2 * reach; x++) seen[to + x] += weight * smooth[x];
        }
      }
    }
  };

  const spread = (place: number, amount: number) => {
    for (let dy = 0, k = 0, row = place - reach * stride - reach; dy < side; dy++, row += stride)
      for (let x = row; x < row + side; x++, k++) seen[x] += amount * correlation[k];
  };

  /** Turns the dot in the nine patterns that contain it. */
  const flipPatterns = (i: number) => {
    patterns[i - stride - 1] ^= 1;
    patterns[i - stride] ^= 2;
    patterns[i - stride + 1] ^= 4;
    patterns[i - 1] ^= 8;
    patterns[i] ^= 16;
    patterns[i + 1] ^= 32;
    patterns[i + stride - 1] ^= 64;
    patterns[i + stride] ^= 128;
    patterns[i + stride + 1] ^= 256;
  };

  const delta = new Float64Array(9);
  /** First order part of what turning dot `i` costs; leaves the nine cells' changes in `delta`. */
  const slope = (i: number): number => {
    const above = i - stride;
    const under = i + stride;
    const d0 = changes[patterns[above - 1]];
    const d1 = changes[512 + patterns[above]];
    const d2 = changes[1024 + patterns[above + 1]];
    const d3 = changes[1536 + patterns[i - 1]];
    const d4 = changes[2048 + patterns[i]];
    const d5 = changes[2560 + patterns[i + 1]];
    const d6 = changes[3072 + patterns[under - 1]];
    const d7 = changes[3584 + patterns[under]];
    const d8 = changes[4096 + patterns[under + 1]];
    delta[0] = d0;
    delta[1] = d1;
    delta[2] = d2;
    delta[3] = d3;
    delta[4] = d4;
    delta[5] = d5;
    delta[6] = d6;
    delta[7] = d7;
    delta[8] = d8;
    return (
      2 *
      (d0 * seen[above - 1] +
        d1 * seen[above] +
        d2 * seen[above + 1] +
        d3 * seen[i - 1] +
        d4 * seen[i] +
        d5 * seen[i + 1] +
        d6 * seen[under - 1] +
        d7 * seen[under] +
        d8 * seen[under + 1])
    );
  };
  /** Second order part: the nine changes among themselves, pairs ordered by their distance. */
  const bow = (): number => {
    const a = delta[0];
    const b = delta[1];
    const c = delta[2];
    const d = delta[3];
    const e = delta[4];
    const f = delta[5];
    const g = delta[6];
    const h = delta[7];
    const i = delta[8];
    return (
      c0 * (a * a + b * b + c * c + d * d + e * e + f * f + g * g + h * h + i * i) +
      2 *
        (c1 * (b * (a + c + e) + d * (a + e + g) + f * (c + e + i) + h * (e + g + i)) +
          c2 * (e * (a + c + g + i) + b * (d + f) + h * (d + f)) +
          c4 * (a * (c + g) + i * (c + g) + b * h + d * f) +
          c5 * (a * (f + h) + c * (d + h) + g * (b + f) + i * (b + d)) +
          c8 * (a * i + c * g))
    );
  };

  const first = new Float64Array(9);
  /** Second order part of two dots together, the first one's changes in `first`, the second's `(dx, dy)` away in `delta`. */
  const cross = (dx: number, dy: number): number => {
    let sum = 0;
    for (let ay = 0, a = 0; ay < 3; ay++)
      for (let ax = 0; ax < 3; ax++, a++) {
        const own = first[a];
        if (own === 0) continue;
        let k = (dy - ay + reach) * side + dx - ax + reach;
        let row = delta[0] * correlation[k] + delta[1] * correlation[k + 1] + delta[2] * correlation[k + 2];
        k += side;
        row += delta[3] * correlation[k] + delta[4] * correlation[k + 1] + delta[5] * correlation[k + 2];
        k += side;
        row += delta[6] * correlation[k] + delta[7] * correlation[k + 1] + delta[8] * correlation[k + 2];
        sum += own * row;
      }
    return 2 * sum;
  };

  const turn = (i: number) => {
    slope(i);
    let cell = i - stride - 1;
    for (let k = 0; k < 9; k++) {
      if (delta[k] !== 0) spread(cell, delta[k]);
      cell += k === 2 || k === 5 ? stride - 2 : 1;
    }
    flipPatterns(i);
  };
  const isOn = (i: number) => (patterns[i] >> 4) & 1;

  const stir = (blocks: Uint8Array, x: number, y: number) => {
    const [bx, by] = [x >> 3, y >> 3];
    for (let v = Math.max(0, by - 1); v <= by + 1; v++)
      for (let u = Math.max(0, bx - 1); u <= Math.min(blocksAcross - 1, bx + 1); u++) {
        const block = v * blocksAcross + u;
        if (block < blocks.length) blocks[block] = 1;
      }
  };

  const dx8 = [1, -1, 0, 1, -1, 0, 1, -1];
  const dy8 = [0, 1, 1, 1, 0, -1, -1, -1];
  /** Looks at one dot: turns it, or exchanges it with the neighbour that gains most. Says whether anything was turned. */
  const consider = (x: number, y: number, i: number): boolean => {
    const alone = slope(i);
    let best = worth;
    let partner = -1;
    let own = alone;
    if (alone < 0) {
      own += bow();
      if (own < best) {
        best = own;
        partner = i;
      }
    }
    const on = isOn(i);
    // Black dots alone look for an exchange: the white partner would find the same one.
    if (on) {
      first.set(delta);
      if (alone >= 0) own += bow();
      flipPatterns(i);
      for (let n = 0; n < 8; n++) {
        const [dx, dy] = [dx8[n], dy8[n]];
        const j = i + dy * stride + dx;
        if (isOn(j) || x + dx < 1 || x + dx > bitmap.width - 2 || y + dy < 1 || y + dy > bitmap.height - 2) continue;
        const second = slope(j);
        // The second order part of both together is never negative.
        if (alone + second >= best) continue;
        const both = own + second + bow() + cross(dx, dy);
        if (both < best) {
          best = both;
          partner = j;
        }
      }
      flipPatterns(i);
    }
    if (partner < 0) return false;
    turn(i);
    if (partner !== i) turn(partner);
    return true;
  };

  const runStrip = (pass: number, strip: number) => {
    const { width, height } = bitmap;
    const before = stirred[pass];
    const after = stirred[pass + 1];
    const [from, to] = [Math.max(1, strip * stripRows), Math.min(height - 1, (strip + 1) * stripRows)];
    for (let y = from; y < to; y++) {
      const blockRow = (y >> 3) * blocksAcross;
      for (let x = 1; x < width - 1; x++) {
        if (before[blockRow + (x >> 3)] === 0) {
          x |= 7;
          continue;
        }
        if (consider(x, y, (y + pad) * stride + x + pad)) stir(after, x, y);
      }
    }
  };

  const store = (strip: number) => {
    const { width, height, data } = bitmap;
    for (let y = strip * stripRows; y < Math.min(height, (strip + 1) * stripRows); y++)
      for (let x = 0; x < width; x++) data[y * width + x] = isOn((y + pad) * stride + x + pad);
  };

  return {
    begin(picture, ink) {
      bitmap = picture;
      wanted = ink;
      const { width, height, data } = picture;
      stride = width + 2 * pad;
      const cells = stride * (height + 2 * pad);
      if (patterns.length !== cells) {
        patterns = new Uint16Array(cells);
        seen = new Float32Array(cells);
        line = new Float32Array(width + 4 * reach);
        smooth = new Float32Array(width + 2 * reach);
      }
      patterns.fill(0);
      seen.fill(0);
      blocksAcross = (width + 7) >> 3;
      const blocks = blocksAcross * ((height + 7) >> 3);
      if (stirred[0]?.length !== blocks) stirred = Array.from({ length: passes + 1 }, () => new Uint8Array(blocks));
      stirred.forEach((blocksOf, pass) => void blocksOf.fill(pass === 0 ? 1 : 0));
      for (let y = 0; y < height; y++)
        for (let x = 0; x < width; x++) if (data[y * width + x]) flipPatterns((y + pad) * stride + x + pad);
      strips = Math.ceil(height / stripRows);
      next = 0;
      counted = 0;
    },
    step() {
      countRows(Math.min(bitmap.height, (next + 1) * stripRows + reach + 1));
      for (let pass = 0; pass < passes; pass++) {
        const strip = next - pass;
        if (strip >= 0 && strip < strips) runStrip(pass, strip);
      }
      const done = next - passes + 1;
      next++;
      if (done < 0) return 0;
      if (done < strips) store(done);
      return Math.min(bitmap.height, (done + 1) * stripRows);
    },
  };
};
