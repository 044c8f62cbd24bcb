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

/** A mark as a scan shows it: ink at a place, its dots being of a certain radius. */
type Likeness = (x: number, y: number) => { ink: number; widening: number };

const likenesses = new Map<number, Likeness>();

const likenessAt = (pxPerDot: number): Likeness => {
  // A page's pictures are nearly all of one scale.
  const key = Math.max(3, Math.round(Math.log2(pxPerDot) * 4));
  const known = likenesses.get(key);
  if (known) return known;
  const dots = inkedDots();
  const sigma = (blurPx / 2 ** (key / 4)) * steps;
  const usual = blurred(coverage(dots, usualRadiusDots), sigma);
  const wide = blurred(coverage(dots, wideRadiusDots), sigma);
  const widening = wide.map((value, i) => (value - usual[i]) / (wideRadiusDots - usualRadiusDots));
  const likeness: Likeness = (x, y) => {
    const [u, v] = [x * steps + half, y * steps + half];
    const [i, j] = [Math.floor(u), Math.floor(v)];
    const at = j * size + i;
    const between = (image: Float32Array) => {
      const above = image[at] + (image[at + 1] - image[at]) * (u - i);
      const below = image[at + size] + (image[at + size + 1] - image[at + size]) * (u - i);
      return above + (below - above) * (v - j);
    };
    return { ink: between(usual), widening: between(widening) };
  };
  likenesses.set(key, likeness);
  return likeness;
};

interface Look {
  x: number;
  y: number;
  value: number;
}

/** Where a mark lies against where it was expected, in dots, and how large its dots are. */
interface Fit extends Point {
  radius: number;
}

const rounds = 4;
/** Share of a mark's darkness from which on what doesn't fit is rather a speck. */
const speckShare = 0.25;
const slopeStep = 1 / steps;

/**
 * Least squares of a mark's image against its likeness on paper whose brightness changes evenly; specks count little.
 * Null where no mark stands out.
 */
const fitMark = (looks: readonly Look[], start: Fit, likeness: Likeness, radiusToo: boolean): Fit | null => {
  let { x: dx, y: dy, radius } = start;
  const inkAt = (x: number, y: number) => {
    const { ink, widening } = likeness(x, y);
    return ink + (radius - usualRadiusDots) * widening;
  };
  let weights = looks.map(() => 1);
  const termCount = radiusToo ? 7 : 6;
  for (let round = 0; round < rounds; round++) {
    const rows = Array.from({ length: termCount }, () => new Array<number>(termCount + 1).fill(0));
    const terms = looks.map(({ x, y, value }, i) => {
      const [u, v] = [x - dx, y - dy];
      const term = [
        1,
        x / outerDots,
        y / outerDots,
        inkAt(u, v),
        (inkAt(u - slopeStep, v) - inkAt(u + slopeStep, v)) / (2 * slopeStep),
        (inkAt(u, v - slopeStep) - inkAt(u, v + slopeStep)) / (2 * slopeStep),
        likeness(u, v).widening,
      ];
      for (let a = 0; a < termCount; a++) {
        const weighted = weights[i] * term[a];
        for (let b = a; b < termCount; b++) rows[a][b] += weighted * term[b];
        rows[a][termCount] += weighted * value;
      }
      return term;
    });
    for (let a = 0; a < termCount; a++) for (let b = 0; b < a; b++) rows[a][b] = rows[b][a];
    const fit = solve(rows);
    // Ink is darker than paper.
    if (!fit || fit[3] > -8) return null;
    const step = (term: number, most: number) => Math.max(-most, Math.min(most, fit[term] / fit[3]));
    dx += step(4, 0.5);
    dy += step(5, 0.5);
    if (radiusToo) radius = Math.max(0.4, Math.min(0.95, radius + step(6, 0.1)));
    if (Math.hypot(dx, dy) > reachDots) return null;
    const off = looks.map(({ value }, i) => value - fit.reduce((sum, part, a) => sum + part * terms[i][a], 0));
    // Edges never fit as well as what lies between, and they are what tells: so not by the usual misfit.
    const speck = speckShare * fit[3];
    weights = off.map(value => 1 / (1 + (value / speck) ** 2));
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
  const looks: Look[] = [];
  const reach = Math.round(outerDots * perDot);
  for (let j = -reach; j < reach; j++)
    for (let i = -reach; i < reach; i++) {
      const at = { x: (i + 0.5) / perDot, y: (j + 0.5) / perDot };
      if (Math.hypot(at.x, at.y) > outerDots) continue;
      const { x: px, y: py } = project(view, x + at.x, y + at.y);
      looks.push({ ...at, value: sample(scan, px, py) });
    }
  const likeness = likenessAt(pxPerDot);
  // Half a mark doesn't tell well whether its dots are large or it lies lower: the whole one does.
  const whole = fitMark(looks, { x: 0, y: 0, radius: usualRadiusDots }, likeness, true);
  return (
    whole &&
    fitMark(
      looks.filter(look => look.y * inward >= 0),
      whole,
      likeness,
      false,
    )
  );
};
