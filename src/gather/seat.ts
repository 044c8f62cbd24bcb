import { createImprint, imprintGeometry } from '../print/imprint.ts';
import type { Grey, Point } from './grey.ts';
import { sample } from './grey.ts';
import type { Homography } from './homography.ts';
import { project, solve } from './homography.ts';

const { markDots, gapDots } = imprintGeometry;
const middle = markDots / 2;

/** Dots from the picture's edge at which a mark's inner half lies, the one towards the picture: the mean of its edges. */
export const seatDots = gapDots + markDots / 2 - 6.5;

/** Looks at the scan, a dot. */
const perDot = 3;
const reachDots = 2;
const outerDots = middle + 2.5;
/** Radius of a printed dot before it is fitted, and another from which is told what larger dots change. */
const [usualRadiusDots, wideRadiusDots] = [0.65, 0.75];
/** Blur of a scan in pixels, about: optics and the pixels' own size. */
const blurPx = 0.6;

/** Samples a dot of a mark's own image. */
const steps = 8;
const half = (outerDots + reachDots + 1) * steps;
const size = 2 * half + 1;

/** Middles of a mark's inked dots, from the mark's middle. */
const inkedDots = (): Point[] => {
  const { head } = createImprint({ widthDots: 2 * markDots, mark: 'A', encode: () => [] });
  const inked: Point[] = [];
  for (let y = 0; y < markDots; y++)
    for (let x = 0; x < markDots; x++)
      if ((head.data[(y + gapDots) * head.strideBytes + (x >> 3)] >> (7 - (x & 7))) & 1)
        inked.push({ x: x + 0.5 - middle, y: y + 0.5 - middle });
  return inked;
};

/** Coverage of round dots, 0 … 1. */
const coverage = (dots: readonly Point[], radiusDots: number): Float32Array => {
  const image = new Float32Array(size * size);
  for (const { x, y } of dots) {
    const [cx, cy] = [x * steps + half, y * steps + half];
    const radius = radiusDots * steps;
    for (let j = Math.ceil(cy - radius); j <= cy + radius; j++)
      for (let i = Math.ceil(cx - radius); i <= cx + radius; i++)
        if (Math.hypot(i - cx, j - cy) <= radius) image[j * size + i] = 1;
  }
  return image;
};

const transposed = (image: Float32Array): Float32Array => {
  const out = new Float32Array(image.length);
  for (let y = 0; y < size; y++) for (let x = 0; x < size; x++) out[x * size + y] = image[y * size + x];
  return out;
};

const blurred = (image: Float32Array, sigma: number): Float32Array => {
  const reach = Math.ceil(2.5 * sigma);
  const kernel = Array.from({ length: 2 * reach + 1 }, (_, k) => Math.exp(-((k - reach) ** 2) / (2 * sigma ** 2)));
  const total = kernel.reduce((sum, value) => sum + value, 0);
  const along = (from: Float32Array): Float32Array => {
    const out = new Float32Array(from.length);
    for (let at = reach; at < from.length - reach; at++) {
      let sum = 0;
      for (let k = 0; k <= 2 * reach; k++) sum += kernel[k] * from[at + k - reach];
      out[at] = sum / total;
    }
    return out;
  };
  return transposed(along(transposed(along(image))));
};

/** A mark as a scan shows it, `steps` samples a dot: its ink, and how that changes to the right, down, and with larger dots. */
interface Likeness {
  ink: Float32Array;
  right: Float32Array;
  down: Float32Array;
  wider: Float32Array;
}

const likenesses = new Map<number, Likeness>();

const likenessAt = (pxPerDot: number): Likeness => {
  // A page's pictures are nearly all of one scale.
  const key = Math.max(3, Math.round(Math.log2(pxPerDot) * 4));
  const known = likenesses.get(key);
  if (known) return known;
  const dots = inkedDots();
  const sigma = (blurPx / 2 ** (key / 4)) * steps;
  const ink = blurred(coverage(dots, usualRadiusDots), sigma);
  const wide = blurred(coverage(dots, wideRadiusDots), sigma);
  const slope = (apart: number) => ink.map((_, i) => (((ink[i + apart] ?? 0) - (ink[i - apart] ?? 0)) * steps) / 2);
  const likeness: Likeness = {
    ink,
    right: slope(1),
    down: slope(size),
    wider: wide.map((value, i) => (value - ink[i]) / (wideRadiusDots - usualRadiusDots)),
  };
  likenesses.set(key, likeness);
  return likeness;
};

/** Where a scan is looked at around a mark's expected middle, in dots, and what is seen there: x, y, value, x, … */
type Looks = readonly number[];

/** Where a mark lies against where it was expected, in dots, and how large its dots are. */
interface Fit extends Point {
  radius: number;
}

const rounds = 4;
/** Share of a mark's darkness from which on what doesn't fit is rather a speck. */
const speckShare = 0.25;
const mostTerms = 7;

/**
 * Least squares of a mark's image against its likeness on paper whose brightness changes evenly; specks count little.
 * Null where no mark stands out.
 */
const fitMark = (looks: Looks, start: Fit, likeness: Likeness, radiusToo: boolean): Fit | null => {
  let { x: dx, y: dy, radius } = start;
  const { ink, right, down, wider } = likeness;
  const count = looks.length / 3;
  const weights = new Float64Array(count).fill(1);
  const termCount = radiusToo ? mostTerms : mostTerms - 1;
  // Paper, its slopes across and down, ink, ink moved across and down, larger dots.
  const terms = new Float64Array(count * mostTerms);
  const sums = new Float64Array(mostTerms * (mostTerms + 1));
  for (let round = 0; round < rounds; round++) {
    sums.fill(0);
    for (let look = 0; look < count; look++) {
      const [x, y, value] = [looks[3 * look], looks[3 * look + 1], looks[3 * look + 2]];
      const u = (x - dx) * steps + half;
      const v = (y - dy) * steps + half;
      const at = Math.floor(v) * size + Math.floor(u);
      const fu = u - Math.floor(u);
      const fv = v - Math.floor(v);
      const [w0, w1, w2, w3] = [(1 - fu) * (1 - fv), fu * (1 - fv), (1 - fu) * fv, fu * fv];
      const larger = w0 * wider[at] + w1 * wider[at + 1] + w2 * wider[at + size] + w3 * wider[at + size + 1];
      const usual = w0 * ink[at] + w1 * ink[at + 1] + w2 * ink[at + size] + w3 * ink[at + size + 1];
      const t = look * mostTerms;
      terms[t] = 1;
      terms[t + 1] = x / outerDots;
      terms[t + 2] = y / outerDots;
      terms[t + 3] = usual + (radius - usualRadiusDots) * larger;
      terms[t + 4] = -(w0 * right[at] + w1 * right[at + 1] + w2 * right[at + size] + w3 * right[at + size + 1]);
      terms[t + 5] = -(w0 * down[at] + w1 * down[at + 1] + w2 * down[at + size] + w3 * down[at + size + 1]);
      terms[t + 6] = larger;
      for (let a = 0; a < termCount; a++) {
        const weighted = weights[look] * terms[t + a];
        const row = a * (mostTerms + 1);
        for (let b = a; b < termCount; b++) sums[row + b] += weighted * terms[t + b];
        sums[row + mostTerms] += weighted * value;
      }
    }
    const rows = Array.from({ length: termCount }, (_, a) => [
      ...Array.from({ length: termCount }, (_, b) => sums[Math.min(a, b) * (mostTerms + 1) + Math.max(a, b)]),
      sums[a * (mostTerms + 1) + mostTerms],
    ]);
    const fit = solve(rows);
    // Ink is darker than paper.
    if (!fit || fit[3] > -8) return null;
    const step = (term: number, most: number) => Math.max(-most, Math.min(most, fit[term] / fit[3]));
    dx += step(4, 0.5);
    dy += step(5, 0.5);
    if (radiusToo) radius = Math.max(0.4, Math.min(0.95, radius + step(6, 0.1)));
    if (Math.hypot(dx, dy) > reachDots) return null;
    // Edges never fit as well as what lies between, and they are what tells: so not by the usual misfit.
    const speck = speckShare * fit[3];
    for (let look = 0; look < count; look++) {
      let off = looks[3 * look + 2];
      for (let a = 0; a < termCount; a++) off -= fit[a] * terms[look * mostTerms + a];
      weights[look] = 1 / (1 + (off / speck) ** 2);
    }
  }
  return { x: dx, y: dy, radius };
};

/**
 * Where a mark lies, told by its half towards the picture alone: uneven feed has moved what is further off.
 * @param view Picture coordinates in dots to pixels, nearly.
 * @param x Middle of the mark in picture coordinates, in dots.
 * @param inward 1 for a mark above the picture, −1 for one below.
 * @returns Shift in dots of what is seen against what the view has.
 */
export const seatOf = (
  scan: Grey,
  view: Homography,
  pxPerDot: number,
  x: number,
  y: number,
  inward: 1 | -1,
): Point | null => {
  const all: number[] = [];
  const inner: number[] = [];
  const reach = Math.round(outerDots * perDot);
  for (let j = -reach; j < reach; j++)
    for (let i = -reach; i < reach; i++) {
      const [dx, dy] = [(i + 0.5) / perDot, (j + 0.5) / perDot];
      if (Math.hypot(dx, dy) > outerDots) continue;
      const { x: px, y: py } = project(view, x + dx, y + dy);
      const value = sample(scan, px, py);
      all.push(dx, dy, value);
      if (dy * inward >= 0) inner.push(dx, dy, value);
    }
  const likeness = likenessAt(pxPerDot);
  // Half a mark doesn't tell well whether its dots are large or it lies lower: the whole one does.
  const whole = fitMark(all, { x: 0, y: 0, radius: usualRadiusDots }, likeness, true);
  return whole && fitMark(inner, whole, likeness, false);
};
