import { imprintGeometry } from '../print/imprint.ts';
import { readCode } from './code.ts';
import type { Grey, Point } from './grey.ts';
import { sample } from './grey.ts';
import type { Homography } from './homography.ts';
import { homographyFrom, project } from './homography.ts';
import { type Mark, momentsOf } from './marks.ts';
import { seatDots, seatOf } from './seat.ts';

interface Name {
  mark: string;
  shot: number;
}

/** A picture found by its four marks. */
export interface FoundPicture {
  /** Camera mark and number, or null where the code could not be read for certain. */
  name: Name | null;
  widthDots: number;
  /** Estimated by geometry alone; the lattice tells it exactly. */
  heightDots: number;
  /** Picture coordinates in dots (0, 0 is the upper left corner of the first dot) to pixels of the scan. */
  toScan: Homography;
  /** Mean pixels a dot. */
  pxPerDot: number;
  marks: { headLeft: Point; headRight: Point; tailLeft: Point; tailRight: Point };
}

const { markDots, gapDots, moduleDots } = imprintGeometry;
const half = markDots / 2;
/** Printed widths that the classes of printers have, in dots. */
const knownWidths = [384, 576];
const shortestBodyDots = 24;
const longestBodyDots = 4000;
/** Slant of a look at the paper below which the marks' shape tells less than the distances between them. */
const leastSlant = 0.01;

const minus = (a: Point, b: Point): Point => ({ x: a.x - b.x, y: a.y - b.y });
const dot = (a: Point, b: Point) => a.x * b.x + a.y * b.y;
const length = (a: Point) => Math.hypot(a.x, a.y);

interface Rung {
  left: Mark;
  right: Mark;
  widthDots: number;
}

/** Ordered pairs of marks that lie as far apart as the two marks of one imprint do. */
const rungsOf = (marks: readonly Mark[]): Rung[] => {
  const rungs: Rung[] = [];
  for (const left of marks)
    for (const right of marks) {
      if (left === right) continue;
      const ratio = left.diameterPx / right.diameterPx;
      if (ratio < 0.7 || ratio > 1.43) continue;
      const inDots =
        (length(minus(right, left)) / ((left.diameterPx + right.diameterPx) / 2)) * (2 * imprintGeometry.ringOuterDots);
      for (const widthDots of knownWidths)
        if (Math.abs(inDots / (widthDots - markDots) - 1) < 0.16) rungs.push({ left, right, widthDots });
    }
  return rungs;
};

/** Share of changes along a line that its rows must have in common to be bars: dots of a picture have none. */
const leastCommon = 0.35;

/**
 * Whether what lies between two marks could be bars, that is, runs alike in all rows. Most lines between two marks cross
 * bare paper or a picture, and to look for a code there takes long.
 */
const looksBarred = (
  scan: Grey,
  { left, along, across }: { left: Point; along: Point; across: Point },
  rows: readonly number[],
  spanDots: number,
): boolean => {
  const steps = Math.floor(spanDots / moduleDots);
  const before = rows.map(() => 0);
  let [common, all] = [0, 0];
  // The rings themselves are not looked at.
  for (let i = 8; i < steps - 8; i++) {
    const t = i / steps;
    let sum = 0;
    rows.forEach((row, r) => {
      const value = sample(scan, left.x + along.x * t + across.x * row, left.y + along.y * t + across.y * row);
      const change = i === 8 ? 0 : value - before[r];
      before[r] = value;
      sum += change;
      all += change * change;
    });
    common += (sum * sum) / rows.length;
  }
  return common > leastCommon * all;
};

/** How often a code is tried to be read, each time with the line between its marks stretched in another way. */
const attempts = 9;

/**
 * Reads what stands between two marks, from the mean darkness over the middle of the bars' height; null where no bars are.
 * @returns Tries once more, `attempt` from 0; null when nothing is read for certain.
 */
const codeReader = (scan: Grey, { left, right, widthDots }: Rung) => {
  const along = minus(right, left);
  const spanDots = widthDots - markDots;
  const perDot = 1 / spanDots;
  // Perspective: pixels a dot change along the line; the marks' own sizes tell how.
  const lean = Math.log(right.diameterPx / left.diameterPx);
  const across: Point = { x: -along.y * perDot, y: along.x * perDot };
  // The profile is taken once, a quarter of a dot apart, and then looked up: reading tries many shifts and stretches.
  const perStep = 0.25;
  const steps = Math.round(spanDots / perStep) + 1;
  const rows = [-5, -3, -1, 1, 3, 5];
  if (!looksBarred(scan, { left, along, across }, rows, spanDots)) return null;
  const inkFor = (bend: number) => {
    const profile = new Float32Array(steps);
    for (let i = 0; i < steps; i++) {
      const t = i / (steps - 1);
      const bent = t + bend * t * (1 - t);
      let sum = 0;
      for (const row of rows)
        sum += sample(scan, left.x + along.x * bent + across.x * row, left.y + along.y * bent + across.y * row);
      profile[i] = 255 - sum / rows.length;
    }
    return (dots: number): number => {
      const at = Math.min(steps - 1.001, Math.max(0, (dots + spanDots / 2) / perStep));
      const i = Math.floor(at);
      return profile[i] + (profile[i + 1] - profile[i]) * (at - i);
    };
  };
  const bends = [0, -lean * 0.5, -lean * 0.67, -0.02, 0.02, -0.05, 0.05, -lean * 0.85, -lean * 0.3];
  return (attempt: number) => readCode(inkFor(bends[attempt]), moduleDots);
};

const nearestHead = (tail: Rung, rungs: readonly Rung[], used: ReadonlySet<Mark>): Rung | null => {
  const along = minus(tail.right, tail.left);
  const perDot = length(along) / (tail.widthDots - markDots);
  // Reading direction left to right with the code upright: the picture lies to its left hand side.
  const up: Point = { x: along.y / length(along), y: -along.x / length(along) };
  let best: Rung | null = null;
  let bestDots = longestBodyDots;
  for (const rung of rungs) {
    if (rung.widthDots !== tail.widthDots || used.has(rung.left) || used.has(rung.right)) continue;
    if (rung.left === tail.left || rung.left === tail.right || rung.right === tail.left) continue;
    const own = minus(rung.right, rung.left);
    if (dot(own, along) < 0.94 * length(own) * length(along)) continue;
    const rise = minus(rung.left, tail.left);
    const height = dot(rise, up) / perDot;
    if (height < shortestBodyDots || height > bestDots) continue;
    if (Math.abs(dot(rise, along)) / length(along) > 0.2 * length(rise) + 2 * perDot) continue;
    best = rung;
    bestDots = height;
  }
  return best;
};

/** Picture coordinates to pixels, when the middles of the upper and lower marks are `spanDots` apart. */
const viewOf = (head: Rung, tail: Rung, spanDots: number): Homography | null => {
  const [top, right] = [-gapDots - half, tail.widthDots - half];
  return homographyFrom(
    [
      { x: half, y: top },
      { x: right, y: top },
      { x: right, y: top + spanDots },
      { x: half, y: top + spanDots },
    ],
    [head.left, head.right, tail.right, tail.left],
  );
};

/** How much taller than wide a mark is, squared, when it is seen back through a view. */
const tallness = (scan: Grey, view: Homography, mark: Mark, x: number, y: number): number => {
  const { xx, xy, yy } = momentsOf(scan, mark);
  const [left, right] = [project(view, x - 1, y), project(view, x + 1, y)];
  const [above, below] = [project(view, x, y - 1), project(view, x, y + 1)];
  // Pixels a dot across (a, b) and down (c, d); their inverse takes the moments back to dots.
  const [a, b, c, d] = [right.x - left.x, right.y - left.y, below.x - above.x, below.y - above.y];
  const across = d * d * xx - 2 * c * d * xy + c * c * yy;
  const down = b * b * xx - 2 * a * b * xy + a * a * yy;
  return down / across;
};

/** Dots from the middles of the upper marks to those of the lower ones. */
const spanOf = (scan: Grey, head: Rung, tail: Rung, guessDots: number): number => {
  const view = viewOf(head, tail, guessDots);
  if (!view) return guessDots;
  // The marks are round: what a slanted look presses flat, it presses flat in them too.
  const [top, right] = [-gapDots - half, tail.widthDots - half];
  const seen = [
    tallness(scan, view, head.left, half, top),
    tallness(scan, view, head.right, right, top),
    tallness(scan, view, tail.left, half, top + guessDots),
    tallness(scan, view, tail.right, right, top + guessDots),
  ].sort((one, other) => one - other);
  const factor = Math.sqrt((seen[1] + seen[2]) / 2);
  // Marks that are small or damaged tell little: what they say is believed where it matters.
  return Number.isFinite(factor) && Math.abs(factor - 1) > leastSlant && Math.abs(factor - 1) < 0.3
    ? guessDots / factor
    : guessDots;
};

/** The view again, by the halves of the marks that lie towards the picture. */
const seatedView = (
  scan: Grey,
  view: Homography,
  pxPerDot: number,
  widthDots: number,
  heightDots: number,
): Homography | null => {
  const from: Point[] = [];
  const to: Point[] = [];
  for (const [y, seat, inward] of [
    [-gapDots - half, -seatDots, 1],
    [heightDots + gapDots + half, heightDots + seatDots, -1],
  ] as const)
    for (const x of inward > 0 ? [half, widthDots - half] : [widthDots - half, half]) {
      const shift = seatOf(scan, view, pxPerDot, x, y, inward) ?? { x: 0, y: 0 };
      from.push({ x, y: seat });
      to.push(project(view, x + shift.x, seat + shift.y));
    }
  return homographyFrom(from, to);
};

const pictureFrom = (scan: Grey, name: Name | null, head: Rung, tail: Rung): FoundPicture | null => {
  const { widthDots } = tail;
  const topPx = length(minus(head.right, head.left));
  const bottomPx = length(minus(tail.right, tail.left));
  const leftPx = length(minus(tail.left, head.left));
  const rightPx = length(minus(tail.right, head.right));
  const pxPerDot = (topPx + bottomPx) / (2 * (widthDots - markDots));
  const around = 2 * gapDots + markDots;
  const heightDots = Math.round(spanOf(scan, head, tail, (leftPx + rightPx) / 2 / pxPerDot) - around);
  const view = viewOf(head, tail, heightDots + around);
  const toScan = view && seatedView(scan, view, pxPerDot, widthDots, heightDots);
  if (!toScan) return null;
  const corner = project(toScan, 0, 0);
  if (!Number.isFinite(corner.x) || !Number.isFinite(corner.y)) return null;
  return {
    name,
    widthDots,
    heightDots,
    toScan,
    pxPerDot,
    marks: { headLeft: head.left, headRight: head.right, tailLeft: tail.left, tailRight: tail.right },
  };
};

export interface PicturesFound {
  found: FoundPicture[];
  /** Codes that were read, but whose picture has no marks above. */
  cutThrough: Name[];
}

/** Puts marks together to pictures: first by codes that were read, then what is left by geometry alone. */
export const findPictures = (scan: Grey, marks: readonly Mark[]): PicturesFound => {
  const rungs = rungsOf(marks);
  const tails: { rung: Rung; name: Name }[] = [];
  const used = new Set<Mark>();
  const barred = rungs.flatMap(rung => {
    const read = codeReader(scan, rung);
    return read ? [{ rung, read }] : [];
  });
  // All are tried once before any is tried harder: half of them are codes seen from the wrong end.
  for (let attempt = 0; attempt < attempts; attempt++)
    for (const { rung, read } of barred) {
      if (used.has(rung.left) || used.has(rung.right)) continue;
      const name = read(attempt);
      if (!name) continue;
      tails.push({ rung, name });
      used.add(rung.left).add(rung.right);
    }
  const found: FoundPicture[] = [];
  const cutThrough: Name[] = [];
  for (const { rung, name } of tails) {
    const head = nearestHead(rung, rungs, used);
    const picture = head && pictureFrom(scan, name, head, rung);
    if (!picture) {
      cutThrough.push(name);
      continue;
    }
    found.push(picture);
    used.add(head.left).add(head.right);
  }
  // Codes that nobody could read: two rungs above each other, the way up taken from pictures that were read.
  const way = found[0] && minus(found[0].marks.tailRight, found[0].marks.tailLeft);
  for (const tail of rungs) {
    if (used.has(tail.left) || used.has(tail.right)) continue;
    if (way ? dot(way, minus(tail.right, tail.left)) <= 0 : tail.right.x < tail.left.x) continue;
    const head = nearestHead(tail, rungs, used);
    const picture = head && pictureFrom(scan, null, head, tail);
    if (!head || !picture) continue;
    found.push(picture);
    for (const mark of [tail.left, tail.right, head.left, head.right]) used.add(mark);
  }
  return { found, cutThrough };
};
