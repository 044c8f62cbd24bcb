import { type Grey, type Point, reduce } from '../../gather/grey.ts';

/** Corners of what may be a wedge's frame, clockwise as seen, pixels. */
export type Quad = readonly [Point, Point, Point, Point];

const searchSidePx = 1000;

/** Where a pixel is much darker than the mean of its wide surroundings (an eighth of the picture to each side). */
const darkPlaces = ({ widthPx: w, heightPx: h, data }: Grey): Uint8Array => {
  const sums = new Float64Array((w + 1) * (h + 1));
  for (let y = 0; y < h; y++)
    for (let x = 0, row = 0; x < w; x++) {
      row += data[y * w + x];
      sums[(y + 1) * (w + 1) + x + 1] = sums[y * (w + 1) + x + 1] + row;
    }
  const reach = Math.round(Math.max(w, h) / 8);
  const dark = new Uint8Array(w * h);
  for (let y = 0; y < h; y++) {
    const [y0, y1] = [Math.max(0, y - reach), Math.min(h, y + reach + 1)];
    for (let x = 0; x < w; x++) {
      const [x0, x1] = [Math.max(0, x - reach), Math.min(w, x + reach + 1)];
      const sum = sums[y1 * (w + 1) + x1] - sums[y0 * (w + 1) + x1] - sums[y1 * (w + 1) + x0] + sums[y0 * (w + 1) + x0];
      dark[y * w + x] = data[y * w + x] * (y1 - y0) * (x1 - x0) < 0.9 * sum ? 1 : 0;
    }
  }
  return dark;
};

const turnOf = (a: Point, b: Point, c: Point): number => (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);

/** Convex hull (monotone chain) of points sorted by x, then y. */
const hullOf = (points: readonly Point[]): Point[] => {
  const chain = (list: readonly Point[]): Point[] => {
    const out: Point[] = [];
    for (const point of list) {
      while (out.length >= 2 && turnOf(out[out.length - 2], out[out.length - 1], point) <= 0) out.pop();
      out.push(point);
    }
    return out.slice(0, -1);
  };
  return [...chain(points), ...chain([...points].reverse())];
};

const areaOf = (polygon: readonly Point[]): number =>
  Math.abs(
    polygon.reduce(
      (sum, p, i) => sum + p.x * polygon[(i + 1) % polygon.length].y - polygon[(i + 1) % polygon.length].x * p.y,
      0,
    ),
  ) / 2;

/** The four corners that keep most of a convex polygon's area, by dropping the least of them one by one. */
const quadOf = (hull: readonly Point[]): Quad | null => {
  const corners = [...hull];
  if (corners.length < 4) return null;
  while (corners.length > 4) {
    let least = 0;
    let leastArea = Number.POSITIVE_INFINITY;
    for (let i = 0; i < corners.length; i++) {
      const area = Math.abs(
        turnOf(corners[(i + corners.length - 1) % corners.length], corners[i], corners[(i + 1) % corners.length]),
      );
      if (area < leastArea) [least, leastArea] = [i, area];
    }
    corners.splice(least, 1);
  }
  return corners as unknown as Quad;
};

/** Frames that may be a wedge's: large dark outlines of four corners, the largest first. */
export const findFrames = (scan: Grey): Quad[] => {
  const factor = Math.max(1, Math.round(Math.max(scan.widthPx, scan.heightPx) / searchSidePx));
  const small = reduce(scan, factor);
  const { widthPx: w, heightPx: h } = small;
  const dark = darkPlaces(small);
  const least = Math.min(w, h) * 0.15;
  const found: { quad: Quad; area: number }[] = [];
  const stack: number[] = [];
  for (let seed = 0; seed < dark.length; seed++) {
    if (dark[seed] !== 1) continue;
    // Leftmost and rightmost places of each row are enough for the hull.
    const left = new Map<number, number>();
    const right = new Map<number, number>();
    let [x0, x1] = [w, 0];
    let count = 0;
    stack.push(seed);
    dark[seed] = 2;
    while (stack.length > 0) {
      const at = stack.pop() as number;
      const [x, y] = [at % w, Math.floor(at / w)];
      count++;
      left.set(y, Math.min(x, left.get(y) ?? w));
      right.set(y, Math.max(x, right.get(y) ?? -1));
      x0 = Math.min(x0, x);
      x1 = Math.max(x1, x);
      for (let dy = -1; dy <= 1; dy++)
        for (let dx = -1; dx <= 1; dx++) {
          const [u, v] = [x + dx, y + dy];
          if (u < 0 || v < 0 || u >= w || v >= h || dark[v * w + u] !== 1) continue;
          dark[v * w + u] = 2;
          stack.push(v * w + u);
        }
    }
    if (x1 - x0 < least || left.size < least) continue;
    const edges = [...left].map(([y, x]) => ({ x, y })).concat([...right].map(([y, x]) => ({ x: x + 1, y })));
    edges.push(...edges.map(({ x, y }) => ({ x, y: y + 1 })));
    edges.sort((a, b) => a.x - b.x || a.y - b.y);
    const hull = hullOf(edges);
    const quad = quadOf(hull);
    const area = areaOf(hull);
    // A frame is mostly hole, and four corners hold nearly all of it.
    if (!quad || count > 0.5 * area || areaOf(quad) < 0.9 * area) continue;
    const scaled = quad.map(({ x, y }) => ({ x: x * factor - 0.5, y: y * factor - 0.5 })) as unknown as Quad;
    found.push({ quad: scaled, area });
  }
  return found.sort((a, b) => b.area - a.area).map(({ quad }) => quad);
};
