import type { Grey, Point } from './grey.ts';
import { reduce } from './grey.ts';

/** A printed area without marks: its corners on the scan, clockwise from the upper left as it lies. */
export interface Printed {
  corners: readonly [Point, Point, Point, Point];
}

const longSidePx = 700;
/** What is smaller, on the reduced scan, or longer for its width, is a line of writing or a smudge. */
const shortestSidePx = 60;
const mostOblong = 6;

const corner = (angle: number, along: number, across: number): Point => ({
  x: along * Math.cos(angle) - across * Math.sin(angle),
  y: along * Math.sin(angle) + across * Math.cos(angle),
});

/** Smallest rectangle around pixels of a map, tried at whole half degrees. */
const rectangleAround = (pixels: readonly number[], widthPx: number): { corners: Printed['corners']; area: number } => {
  let least = { area: Number.POSITIVE_INFINITY, angle: 0, left: 0, right: 0, top: 0, bottom: 0 };
  for (let step = 0; step < 180; step++) {
    const angle = ((step - 90) * Math.PI) / 360;
    const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
    let [left, right, top, bottom] = [Infinity, -Infinity, Infinity, -Infinity];
    for (const i of pixels) {
      const x = i % widthPx;
      const y = (i - x) / widthPx;
      const along = x * cos + y * sin;
      const across = y * cos - x * sin;
      if (along < left) left = along;
      if (along > right) right = along;
      if (across < top) top = across;
      if (across > bottom) bottom = across;
    }
    const area = (right - left) * (bottom - top);
    if (area < least.area) least = { area, angle, left, right, top, bottom };
  }
  const { area, angle, left, right, top, bottom } = least;
  return {
    area,
    corners: [
      corner(angle, left, top),
      corner(angle, right, top),
      corner(angle, right, bottom),
      corner(angle, left, bottom),
    ],
  };
};

/** Where the picture changes a lot from pixel to pixel or is dark: halftones do, paper and table don't. */
const busyMap = ({ widthPx, heightPx, data }: Grey): Uint8Array => {
  const busy = new Uint8Array(widthPx * heightPx);
  const counts = new Uint32Array(256);
  for (const value of data) counts[value]++;
  let bright = 255;
  for (let brighter = counts[255]; brighter < data.length * 0.1; brighter += counts[--bright]);
  for (let y = 1; y < heightPx; y++)
    for (let x = 1; x < widthPx; x++) {
      const i = y * widthPx + x;
      if (Math.abs(data[i] - data[i - 1]) + Math.abs(data[i] - data[i - widthPx]) > 36 || data[i] < bright * 0.55)
        busy[i] = 1;
    }
  return busy;
};

/** Share of set pixels in the window around each pixel. */
const density = (map: Uint8Array, width: number, height: number, half: number): Float32Array => {
  const sums = new Float64Array((width + 1) * (height + 1));
  for (let y = 0; y < height; y++) {
    let row = 0;
    for (let x = 0; x < width; x++) {
      row += map[y * width + x];
      sums[(y + 1) * (width + 1) + x + 1] = sums[y * (width + 1) + x + 1] + row;
    }
  }
  const out = new Float32Array(width * height);
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      const [x0, x1, y0, y1] = [
        Math.max(0, x - half),
        Math.min(width, x + half + 1),
        Math.max(0, y - half),
        Math.min(height, y + half + 1),
      ];
      const sum =
        sums[y1 * (width + 1) + x1] -
        sums[y0 * (width + 1) + x1] -
        sums[y1 * (width + 1) + x0] +
        sums[y0 * (width + 1) + x0];
      out[y * width + x] = sum / ((x1 - x0) * (y1 - y0));
    }
  return out;
};

/** Turns what hangs together with `start` from 1 to 2; its pixels are then the first of `queue`, as many as is returned. */
const flood = (map: Uint8Array, widthPx: number, start: number, queue: Int32Array): number => {
  let tail = 1;
  queue[0] = start;
  map[start] = 2;
  for (let head = 0; head < tail; head++) {
    const i = queue[head];
    const x = i % widthPx;
    for (let side = 0; side < 4; side++) {
      if ((side === 0 && x === 0) || (side === 1 && x === widthPx - 1)) continue;
      const j = side === 0 ? i - 1 : side === 1 ? i + 1 : side === 2 ? i - widthPx : i + widthPx;
      if (j < 0 || j >= map.length || map[j] !== 1) continue;
      map[j] = 2;
      queue[tail++] = j;
    }
  }
  return tail;
};

const onRim = (map: Uint8Array, widthPx: number, heightPx: number, i: number): boolean => {
  const x = i % widthPx;
  const y = (i - x) / widthPx;
  if (x === 0 || y === 0 || x === widthPx - 1 || y === heightPx - 1) return true;
  return map[i - 1] === 0 || map[i + 1] === 0 || map[i - widthPx] === 0 || map[i + widthPx] === 0;
};

/**
 * Dense printed areas that bear no marks, to be cut out and straightened. Lines of text are too thin and too open to
 * count: an area must be filled for the greater part.
 */
export const findUnmarked = (scan: Grey): Printed[] => {
  const factor = Math.max(1, Math.floor(Math.max(scan.widthPx, scan.heightPx) / longSidePx / 2));
  const near = reduce(scan, factor);
  const busy = density(busyMap(near), near.widthPx, near.heightPx, 3);
  const { widthPx, heightPx } = near;
  const data = new Uint8Array(busy.length);
  for (let i = 0; i < data.length; i++) data[i] = busy[i] > 0.45 ? 1 : 0;
  const found: Printed[] = [];
  const queue = new Int32Array(data.length);
  for (let start = 0; start < data.length; start++) {
    if (data[start] !== 1) continue;
    const size = flood(data, widthPx, start, queue);
    if (size < 0.004 * data.length) continue;
    const rim = [...queue.subarray(0, size)].filter(i => onRim(data, widthPx, heightPx, i));
    const rectangle = rectangleAround(rim, widthPx);
    if (size < 0.7 * rectangle.area) continue;
    const [a, b, c] = rectangle.corners;
    const sides = [Math.hypot(b.x - a.x, b.y - a.y), Math.hypot(c.x - b.x, c.y - b.y)].sort(
      (one, other) => one - other,
    );
    if (sides[0] < shortestSidePx || sides[1] > mostOblong * sides[0]) continue;
    const scaled = rectangle.corners.map(({ x, y }) => ({ x: (x + 0.5) * factor, y: (y + 0.5) * factor }));
    found.push({ corners: scaled as unknown as Printed['corners'] });
  }
  return found;
};
