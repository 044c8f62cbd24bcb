import type { Grey } from './grey.ts';
import { createGrey, sample } from './grey.ts';
import type { Homography } from './homography.ts';
import type { Ink } from './light.ts';

/** Samples a dot in a rectified picture, across and along. */
export const perDot = 4;
/** Dots around the picture that are rectified too. */
export const marginDots = 4;
/** Of these, so many from the outside are bare for certain, even where curl has moved the picture. */
export const rimDots = 2.5;

/** Where rows and columns of dots lie on a rectified picture, in samples. */
export interface Lattice {
  heightDots: number;
  /** Upper edge of each row, and the lower edge of the last. */
  rowEdges: Float32Array;
  /** Sideways shift of each row. */
  shifts: Float32Array;
  /** How clearly the rows stand out: mean edge strength on them against that between them; near 0 there is no lattice. */
  contrast: number;
}

/** The picture seen straight from above, `perDot` samples a dot. */
export const rectify = (scan: Grey, toScan: Homography, widthDots: number, heightDots: number): Grey => {
  const out = createGrey((widthDots + 2 * marginDots) * perDot, (heightDots + 2 * marginDots) * perDot);
  const [a, b, c, d, e, f, g, h] = toScan;
  for (let y = 0; y < out.heightPx; y++) {
    const v = (y + 0.5) / perDot - marginDots;
    const [px, py, pw] = [b * v + c, e * v + f, h * v + 1];
    const row = y * out.widthPx;
    for (let x = 0; x < out.widthPx; x++) {
      const u = (x + 0.5) / perDot - marginDots;
      const w = 1 / (g * u + pw);
      out.data[row + x] = sample(scan, (a * u + px) * w, (d * u + py) * w) + 0.5;
    }
  }
  return out;
};

const movingMean = (values: Float32Array, half: number): Float32Array => {
  const out = new Float32Array(values.length);
  for (let i = 0; i < values.length; i++) {
    let [sum, n] = [0, 0];
    for (let j = Math.max(0, i - half); j <= Math.min(values.length - 1, i + half); j++, n++) sum += values[j];
    out[i] = sum / n;
  }
  return out;
};

/**
 * Strength of horizontal edges at each sample boundary against its mean over one dot about there, scaled to unit spread.
 * A wider mean would tell against rows in plain white or black beside strong edges.
 */
const rowEdgeStrength = ({ width, height, data }: Ink): Float32Array => {
  const strength = new Float32Array(height);
  for (let y = 1; y < height; y++) {
    let sum = 0;
    for (let x = 0; x < width; x++) sum += Math.abs(data[y * width + x] - data[(y - 1) * width + x]);
    strength[y] = sum / width;
  }
  const contrast = new Float32Array(height);
  let power = 0;
  for (let i = 2; i < height - 2; i++) {
    const around = (strength[i - 2] + strength[i + 2]) / 2 + strength[i - 1] + strength[i] + strength[i + 1];
    contrast[i] = strength[i] - around / perDot;
    power += contrast[i] ** 2;
  }
  const spread = Math.sqrt(power / height) || 1;
  return contrast.map(value => value / spread);
};

const stepCost = 0.35;
const stretchMost = 0.07;
/** Spread of an end about where the marks have it: feed jitter between a mark's inner half and the picture, in dots. */
const endSpread = 0.2;
/** Unlikelihood of an end so many dots off. */
const endCost = (offDots: number) => offDots ** 2 / (2 * endSpread ** 2);
const endSlack = perDot * 0.75;

/**
 * Row edges by dynamic programming: from the picture's top edge to its bottom edge, both nearly known by the marks, in
 * steps of a dot or one sample more or less, so that edges fall where the picture has them. The number of rows is free.
 */
const findRows = (strength: Float32Array, spanSamples: number): { edges: Float32Array; score: number } => {
  const start = marginDots * perDot;
  const end = start + spanSamples;
  const fewest = Math.floor(spanSamples / perDot / (1 + stretchMost));
  const most = Math.ceil(spanSamples / perDot / (1 - stretchMost));
  const size = end + endSlack + 1;
  let score = new Float32Array(size).fill(Number.NEGATIVE_INFINITY);
  for (let d = -endSlack; d <= endSlack; d++) score[start + d] = strength[start + d] - endCost(d / perDot);
  const moves: Int8Array[] = [];
  let best = { rows: 0, end, score: Number.NEGATIVE_INFINITY };
  for (let k = 1; k <= most; k++) {
    const next = new Float32Array(size).fill(Number.NEGATIVE_INFINITY);
    const move = new Int8Array(size);
    const from = Math.max(0, Math.floor(start + k * perDot * (1 - stretchMost)) - endSlack);
    const to = Math.min(size - 1, Math.ceil(start + k * perDot * (1 + stretchMost)) + endSlack);
    for (let p = from; p <= to; p++)
      for (let d = -1; d <= 1; d++) {
        const before = p - perDot - d;
        if (before < 0) continue;
        const value = score[before] + strength[p] - (d === 0 ? 0 : stepCost);
        if (value > next[p]) {
          next[p] = value;
          move[p] = d;
        }
      }
    score = next;
    moves.push(move);
    if (k >= fewest)
      for (let p = end - endSlack; p <= end + endSlack; p++)
        if (score[p] - endCost((p - end) / perDot) > best.score)
          best = { rows: k, end: p, score: score[p] - endCost((p - end) / perDot) };
  }
  const edges = new Float32Array(best.rows + 1);
  let p = best.end;
  for (let k = best.rows; k > 0; k--) {
    edges[k] = p;
    p -= perDot + moves[k - 1][p];
  }
  edges[0] = p;
  return { edges, score: best.score / Math.max(1, best.rows) };
};

/** Steps of one sample make a ragged staircase of what is a slow drift: a short mean over neighbours straightens it. */
const smoothEdges = (edges: Float32Array): Float32Array => {
  const off = new Float32Array(edges.length);
  for (let k = 0; k < edges.length; k++) off[k] = edges[k] - k * perDot;
  const mean = movingMean(off, 2);
  return mean.map((value, k) => value + k * perDot);
};

const blockRows = 24;
const shiftReach = perDot * 3;

/** Sideways shift of each block of rows, tracked from block to block, since a shift by a whole dot looks the same. */
const findShifts = ({ width, data }: Ink, edges: Float32Array, widthDots: number): Float32Array => {
  const rows = edges.length - 1;
  const blocks = Math.max(1, Math.round(rows / blockRows));
  const choices = 2 * shiftReach + 1;
  const gains: Float32Array[] = [];
  for (let b = 0; b < blocks; b++) {
    const top = Math.round(edges[Math.floor((b * rows) / blocks)]);
    const bottom = Math.round(edges[Math.floor(((b + 1) * rows) / blocks)]);
    const strength = new Float32Array(width);
    for (let y = top; y < bottom; y++)
      for (let x = 1; x < width; x++) strength[x] += Math.abs(data[y * width + x] - data[y * width + x - 1]);
    const mean = movingMean(strength, perDot * 3);
    const gain = new Float32Array(choices);
    let power = 1e-9;
    for (let x = 1; x < width; x++) power += (strength[x] - mean[x]) ** 2;
    for (let c = 0; c < choices; c++)
      for (let k = 0; k <= widthDots; k++) {
        const x = (k + marginDots) * perDot + c - shiftReach;
        if (x > 0 && x < width) gain[c] += (strength[x] - mean[x]) / Math.sqrt(power);
      }
    gains.push(gain);
  }
  let score = Float32Array.from({ length: choices }, (_, c) => -Math.abs(c - shiftReach) * 0.3);
  const cameFrom: Int16Array[] = [];
  for (const gain of gains) {
    const next = new Float32Array(choices).fill(Number.NEGATIVE_INFINITY);
    const from = new Int16Array(choices);
    for (let c = 0; c < choices; c++)
      for (let before = Math.max(0, c - 2); before <= Math.min(choices - 1, c + 2); before++) {
        const value = score[before] - 0.4 * (c - before) ** 2 + gain[c];
        if (value > next[c]) {
          next[c] = value;
          from[c] = before;
        }
      }
    score = next;
    cameFrom.push(from);
  }
  let c = shiftReach;
  let best = Number.NEGATIVE_INFINITY;
  score.forEach((value, index) => {
    const closing = value - Math.abs(index - shiftReach) * 0.3;
    if (closing > best) [best, c] = [closing, index];
  });
  const atBlock = new Float32Array(blocks);
  for (let b = blocks - 1; b >= 0; b--) {
    atBlock[b] = c - shiftReach;
    c = cameFrom[b][c];
  }
  const smooth = movingMean(atBlock, 1);
  return Float32Array.from({ length: rows }, (_, row) => {
    const at = ((row + 0.5) * blocks) / rows - 0.5;
    const b = Math.min(blocks - 1, Math.max(0, Math.floor(at)));
    const next = Math.min(blocks - 1, b + 1);
    return smooth[b] + (smooth[next] - smooth[b]) * Math.min(1, Math.max(0, at - b));
  });
};

/** Columns that are clearly darker in the middle of one row than in that of another, a dot or two off. */
const darkerColumns = ({ width, height, data }: Ink, at: number, than: number, shift: number, widthDots: number) => {
  const rowAt = (y: number) => Math.min(height - 1, Math.max(1, Math.round(y))) * width;
  const [here, there] = [rowAt(at), rowAt(than)];
  const four = (i: number) => data[i] + data[i - 1] + data[i - width] + data[i - width - 1];
  let count = 0;
  for (let column = 0; column < widthDots; column++) {
    const x = Math.round((column + marginDots + 0.5) * perDot + shift);
    if (x >= 1 && x < width && four(here + x) - four(there + x) > 2) count++;
  }
  return count;
};

/** A row with fewer inked columns may be dust on white. */
const fewestInked = 8;
/** Unlikelihood of ink outside the picture. */
const strayCost = 10;
/** Unlikelihood of a picture that begins with a bare row: of any, and of one before a row with plenty of ink. */
const bareCost = 1.5;
const bareBeforePlentyCost = 5;
const plentyInked = 32;

/**
 * By how many rows an end of the picture should move outwards, weighing what the marks have against ink beyond it and bare
 * rows within.
 * @param out Samples from one row to the next further out: −`perDot` at the top.
 * @param beyondDots How much further out the end lies than the marks have it.
 */
const endShift = (
  ink: Ink,
  end: number,
  out: number,
  beyondDots: number,
  shift: number,
  widthDots: number,
): -1 | 0 | 1 => {
  const inked = (rows: number) => darkerColumns(ink, end + rows * out, end + 1.5 * out, shift, widthDots);
  const [outer, own, next] = [inked(0.5), inked(-0.5), inked(-1.5)];
  const bareness = (first: number, second: number) =>
    first >= fewestInked ? 0 : second >= plentyInked ? bareBeforePlentyCost : bareCost;
  const costs = [
    { by: 0, cost: endCost(beyondDots) + (outer >= fewestInked ? strayCost : 0) + bareness(own, next) },
    { by: 1, cost: endCost(beyondDots + 1) + bareness(outer, own) },
    {
      by: -1,
      cost: endCost(beyondDots - 1) + (Math.max(outer, own) >= fewestInked ? strayCost : 0) + bareness(next, 0),
    },
  ] as const;
  return costs.reduce((best, one) => (one.cost < best.cost ? one : best)).by;
};

/** Row edges whose ends are the picture's. */
const settleEnds = (ink: Ink, edges: Float32Array, shifts: Float32Array, widthDots: number): Float32Array => {
  const settled = Array.from(edges);
  const top = settled[0];
  const bottom = settled[settled.length - 1];
  const [first, last] = [marginDots * perDot, ink.height - marginDots * perDot];
  const below = endShift(ink, bottom, perDot, (bottom - last) / perDot, shifts[shifts.length - 1], widthDots);
  const above = endShift(ink, top, -perDot, (first - top) / perDot, shifts[0], widthDots);
  if (below > 0) settled.push(bottom + perDot);
  else if (below < 0) settled.pop();
  if (above > 0) settled.unshift(top - perDot);
  else if (above < 0) settled.shift();
  return Float32Array.from(settled);
};

/** Finds the printer's own lattice on an evenly lit, rectified picture. */
export const findLattice = (ink: Ink, widthDots: number): Lattice => {
  const span = ink.height - 2 * marginDots * perDot;
  const { edges, score } = findRows(rowEdgeStrength(ink), span);
  const smooth = smoothEdges(edges);
  const rowEdges = settleEnds(ink, smooth, findShifts(ink, smooth, widthDots), widthDots);
  return {
    heightDots: rowEdges.length - 1,
    rowEdges,
    shifts: findShifts(ink, rowEdges, widthDots),
    contrast: score,
  };
};
