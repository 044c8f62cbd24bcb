import { imprintGeometry } from '../print/imprint.ts';
import type { Grey, Point } from './grey.ts';
import { reduce } from './grey.ts';

/** A register mark found on a scan: its centre and outer diameter in pixels of the scan. */
export interface Mark extends Point {
  diameterPx: number;
}

interface Blob {
  area: number;
  left: number;
  right: number;
  top: number;
  bottom: number;
  sumX: number;
  sumY: number;
}

const { ringOuterDots, ringInnerDots, discDots } = imprintGeometry;
const ringToDisc = ringOuterDots / discDots;
/** Share of its bounding box that a ring fills. */
const ringFill = (Math.PI / 4) * (1 - (ringInnerDots / ringOuterDots) ** 2);
const smallestMarkPx = 12;
const largestMarkPx = 52;
const windowPx = 64;
/** Darker than this share of its surroundings' mean is ink. */
const inkBelow = 0.82;

/** Ink where a pixel is clearly darker than the mean of the window around it. */
const inkMap = ({ widthPx, heightPx, data }: Grey): Uint8Array => {
  const half = windowPx >> 1;
  const ink = new Uint8Array(widthPx * heightPx);
  const columns = new Float64Array(widthPx);
  let rowsIn = 0;
  const addRow = (y: number, sign: 1 | -1) => {
    const at = y * widthPx;
    for (let x = 0; x < widthPx; x++) columns[x] += sign * data[at + x];
    rowsIn += sign;
  };
  for (let y = 0; y < Math.min(half, heightPx); y++) addRow(y, 1);
  for (let y = 0; y < heightPx; y++) {
    if (y + half < heightPx) addRow(y + half, 1);
    if (y - half - 1 >= 0) addRow(y - half - 1, -1);
    let sum = 0;
    let columnsIn = 0;
    for (let x = 0; x < Math.min(half, widthPx); x++, columnsIn++) sum += columns[x];
    const at = y * widthPx;
    for (let x = 0; x < widthPx; x++) {
      if (x + half < widthPx) {
        sum += columns[x + half];
        columnsIn++;
      }
      if (x - half - 1 >= 0) {
        sum -= columns[x - half - 1];
        columnsIn--;
      }
      ink[at + x] = data[at + x] * columnsIn * rowsIn < sum * inkBelow ? 1 : 0;
    }
  }
  return ink;
};

/** Connected blobs of ink (8-neighbours), found run by run. */
const blobsOf = (ink: Uint8Array, widthPx: number, heightPx: number): Blob[] => {
  const parent: number[] = [];
  const blobs: Blob[] = [];
  const find = (a: number): number => {
    let root = a;
    while (parent[root] !== root) root = parent[root];
    while (parent[a] !== root) [parent[a], a] = [root, parent[a]];
    return root;
  };
  const join = (a: number, b: number) => {
    const into = find(a);
    const from = find(b);
    if (into === from) return;
    parent[from] = into;
    const [A, B] = [blobs[into], blobs[from]];
    A.area += B.area;
    A.sumX += B.sumX;
    A.sumY += B.sumY;
    if (B.left < A.left) A.left = B.left;
    if (B.right > A.right) A.right = B.right;
    if (B.top < A.top) A.top = B.top;
    if (B.bottom > A.bottom) A.bottom = B.bottom;
  };
  let above: Int32Array = new Int32Array(0);
  let aboveLength = 0;
  let current = new Int32Array(3 * (widthPx + 2));
  let spare = new Int32Array(3 * (widthPx + 2));
  for (let y = 0; y < heightPx; y++) {
    let length = 0;
    let fromAbove = 0;
    const at = y * widthPx;
    for (let x = 0; x < widthPx; ) {
      if (!ink[at + x]) {
        x++;
        continue;
      }
      const start = x;
      while (x < widthPx && ink[at + x]) x++;
      const end = x - 1;
      let label = -1;
      while (fromAbove < aboveLength && above[fromAbove + 1] < start - 1) fromAbove += 3;
      for (let i = fromAbove; i < aboveLength && above[i] <= end + 1; i += 3) {
        if (label < 0) label = find(above[i + 2]);
        else join(label, above[i + 2]);
      }
      const n = end - start + 1;
      const sumX = ((start + end) * n) / 2;
      if (label < 0) {
        label = blobs.length;
        parent.push(label);
        blobs.push({ area: n, left: start, right: end, top: y, bottom: y, sumX, sumY: y * n });
      } else {
        label = find(label);
        const blob = blobs[label];
        blob.area += n;
        blob.sumX += sumX;
        blob.sumY += y * n;
        if (start < blob.left) blob.left = start;
        if (end > blob.right) blob.right = end;
        if (y > blob.bottom) blob.bottom = y;
      }
      current[length] = start;
      current[length + 1] = end;
      current[length + 2] = label;
      length += 3;
    }
    above = current;
    aboveLength = length;
    [current, spare] = [spare, current];
  }
  return blobs.filter((_, index) => parent[index] === index);
};

const boxOf = (blob: Blob) => {
  const width = blob.right - blob.left + 1;
  const height = blob.bottom - blob.top + 1;
  return {
    width,
    height,
    diameter: Math.sqrt(width * height),
    fill: blob.area / (width * height),
    x: (blob.left + blob.right) / 2,
    y: (blob.top + blob.bottom) / 2,
  };
};
type Box = ReturnType<typeof boxOf>;

const roundish = ({ width, height }: Box) => width < 1.7 * height && height < 1.7 * width;

/** Rings with a disc in their middle, at one reduction of the scan. */
const ringsAt = (image: Grey): Mark[] => {
  const boxes = blobsOf(inkMap(image), image.widthPx, image.heightPx)
    .filter(
      blob =>
        blob.area >= 6 && blob.right - blob.left < largestMarkPx * 1.4 && blob.bottom - blob.top < largestMarkPx * 1.4,
    )
    .map(boxOf)
    .filter(roundish);
  const cell = 8;
  const discs = new Map<number, Box[]>();
  const key = (x: number, y: number) => Math.floor(y / cell) * 65536 + Math.floor(x / cell);
  for (const box of boxes) {
    if (box.fill < 0.55 || box.diameter > largestMarkPx / 2) continue;
    const at = key(box.x, box.y);
    const there = discs.get(at);
    if (there) there.push(box);
    else discs.set(at, [box]);
  }
  const marks: Mark[] = [];
  for (const ring of boxes) {
    if (ring.diameter < smallestMarkPx || ring.diameter > largestMarkPx) continue;
    if (ring.fill < ringFill * 0.6 || ring.fill > ringFill * 1.45) continue;
    const reach = 0.12 * ring.diameter + 1;
    for (let dy = -1; dy <= 1; dy++)
      for (let dx = -1; dx <= 1; dx++)
        for (const disc of discs.get(key(ring.x + dx * cell, ring.y + dy * cell)) ?? []) {
          const ratio = ring.diameter / disc.diameter;
          if (Math.hypot(ring.x - disc.x, ring.y - disc.y) > reach) continue;
          if (ratio < ringToDisc * 0.65 || ratio > ringToDisc * 1.5) continue;
          if (Math.abs(ring.width / ring.height - disc.width / disc.height) > 0.6) continue;
          marks.push({ x: (ring.x + disc.x) / 2, y: (ring.y + disc.y) / 2, diameterPx: ring.diameter });
        }
  }
  return marks;
};

/** Share of a mark's darkness up to which something dark beside it is a stain. */
const stainMost = 0.35;

/** Centre of darkness around a mark: symmetric, so blur and bloom don't move it. */
const refine = (image: Grey, mark: Mark): Mark => {
  let { x, y } = mark;
  const radius = mark.diameterPx * 0.62;
  for (let round = 0; round < 3; round++) {
    let [light, n, darkest] = [0, 0, 255];
    const inside: number[] = [];
    for (let py = Math.ceil(y - radius); py <= y + radius; py++)
      for (let px = Math.ceil(x - radius); px <= x + radius; px++) {
        const d = Math.hypot(px - x, py - y);
        if (d > radius || px < 0 || py < 0 || px >= image.widthPx || py >= image.heightPx) continue;
        const value = image.data[py * image.widthPx + px];
        if (d > mark.diameterPx * 0.55) {
          light += value;
          n++;
        }
        if (value < darkest) darkest = value;
        inside.push(px, py, value, d);
      }
    if (n === 0) return mark;
    // A stain across a mark is lighter than its ink, and must not move it.
    light /= n;
    light -= stainMost * (light - darkest);
    let [weight, sx, sy] = [0, 0, 0];
    for (let i = 0; i < inside.length; i += 4) {
      if (inside[i + 3] > mark.diameterPx * 0.57) continue;
      const dark = Math.max(0, light - inside[i + 2]);
      weight += dark;
      sx += dark * inside[i];
      sy += dark * inside[i + 1];
    }
    if (weight === 0) return mark;
    x = sx / weight;
    y = sy / weight;
  }
  return { x, y, diameterPx: mark.diameterPx };
};

/** Second moments of a mark's ink about its centre, px²: how far it reaches across, down, and both. */
export const momentsOf = (image: Grey, { x, y, diameterPx }: Mark): { xx: number; xy: number; yy: number } => {
  const radius = 0.65 * diameterPx;
  const around: { dx: number; dy: number; value: number }[] = [];
  let [darkest, light, n] = [255, 0, 0];
  for (let py = Math.max(0, Math.ceil(y - radius)); py <= Math.min(image.heightPx - 1, y + radius); py++)
    for (let px = Math.max(0, Math.ceil(x - radius)); px <= Math.min(image.widthPx - 1, x + radius); px++) {
      const d = Math.hypot(px - x, py - y);
      if (d > radius) continue;
      const value = image.data[py * image.widthPx + px];
      around.push({ dx: px - x, dy: py - y, value });
      if (value < darkest) darkest = value;
      if (d > 0.6 * diameterPx) {
        light += value;
        n++;
      }
    }
  // Noise of bare paper is no ink.
  const paper = light / Math.max(1, n);
  const least = 0.25 * (paper - darkest);
  let [sum, xx, xy, yy] = [0, 0, 0, 0];
  for (const { dx, dy, value } of around) {
    const ink = paper - value;
    if (ink < least) continue;
    sum += ink;
    xx += ink * dx * dx;
    xy += ink * dx * dy;
    yy += ink * dy * dy;
  }
  return { xx: xx / sum, xy: xy / sum, yy: yy / sum };
};

const mostPixels = 20_000_000;

/**
 * Register marks anywhere on a scan, at any turn, 200 to 1,200 dpi or a phone's perspective.
 * Looked for at several reductions, since a mark's size on a phone photo isn't known.
 */
export const findMarks = (scan: Grey): Mark[] => {
  const found: Mark[] = [];
  let image = scan;
  for (let factor = 1; factor <= 8; factor *= 2) {
    if (factor > 1) image = reduce(image, 2);
    if (image.data.length > mostPixels) continue;
    if (Math.min(image.widthPx, image.heightPx) < 3 * smallestMarkPx) break;
    for (const mark of ringsAt(image)) {
      const full: Mark = {
        x: (mark.x + 0.5) * factor - 0.5,
        y: (mark.y + 0.5) * factor - 0.5,
        diameterPx: mark.diameterPx * factor,
      };
      const twin = found.some(other => Math.hypot(other.x - full.x, other.y - full.y) < 0.4 * full.diameterPx);
      if (!twin) found.push(refine(scan, full));
    }
  }
  return found;
};
