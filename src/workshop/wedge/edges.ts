import { type Grey, type Point, sample } from '../../gather/grey.ts';
import type { Quad } from './find.ts';

const places = 60;

interface Line {
  at: Point;
  along: Point;
}

/** Straight line through points: total least squares, twice, points far off left out the second time. */
const lineThrough = (points: readonly Point[]): Line | null => {
  let kept = points;
  for (let round = 0; ; round++) {
    if (kept.length < 8) return null;
    const at = {
      x: kept.reduce((sum, p) => sum + p.x, 0) / kept.length,
      y: kept.reduce((sum, p) => sum + p.y, 0) / kept.length,
    };
    let [xx, xy, yy] = [0, 0, 0];
    for (const { x, y } of kept) {
      xx += (x - at.x) ** 2;
      xy += (x - at.x) * (y - at.y);
      yy += (y - at.y) ** 2;
    }
    const angle = Math.atan2(2 * xy, xx - yy) / 2;
    const along = { x: Math.cos(angle), y: Math.sin(angle) };
    if (round === 2) return { at, along };
    const off = (p: Point) => Math.abs((p.x - at.x) * along.y - (p.y - at.y) * along.x);
    const middle = kept.map(off).sort((a, b) => a - b)[kept.length >> 1];
    kept = kept.filter(p => off(p) <= 3 * middle + 0.1);
  }
};

const meet = (a: Line, b: Line): Point | null => {
  const cross = a.along.x * b.along.y - a.along.y * b.along.x;
  if (Math.abs(cross) < 1e-6) return null;
  const t = ((b.at.x - a.at.x) * b.along.y - (b.at.y - a.at.y) * b.along.x) / cross;
  return { x: a.at.x + t * a.along.x, y: a.at.y + t * a.along.y };
};

/**
 * Corners to a part of a pixel: along each side, where brightness crosses the middle between paper outside and frame
 * inside, and straight lines through these places. Null where there is no such edge.
 */
export const refineQuad = (scan: Grey, quad: Quad, thicknessPx: number): Quad | null => {
  const centre = { x: quad.reduce((s, p) => s + p.x, 0) / 4, y: quad.reduce((s, p) => s + p.y, 0) / 4 };
  const lines = quad.map((from, i) => {
    const to = quad[(i + 1) % 4];
    const length = Math.hypot(to.x - from.x, to.y - from.y);
    let normal = { x: -(to.y - from.y) / length, y: (to.x - from.x) / length };
    if ((centre.x - from.x) * normal.x + (centre.y - from.y) * normal.y < 0) normal = { x: -normal.x, y: -normal.y };
    const edge: Point[] = [];
    for (let k = 0; k < places; k++) {
      const t = 0.04 + (0.92 * (k + 0.5)) / places;
      const at = (depth: number) =>
        sample(scan, from.x + (to.x - from.x) * t + normal.x * depth, from.y + (to.y - from.y) * t + normal.y * depth);
      const [start, end] = [-1.1 * thicknessPx, 0.8 * thicknessPx];
      const step = Math.max(0.25, thicknessPx / 40);
      let [light, dark] = [0, 255];
      for (let d = start; d <= end; d += step) {
        light = Math.max(light, at(d));
        dark = Math.min(dark, at(d));
      }
      if (light - dark < 24) continue;
      const half = (light + dark) / 2;
      for (let d = start; d + step <= end; d += step) {
        const [a, b] = [at(d), at(d + step)];
        if (a < half || b >= half) continue;
        const depth = d + (step * (a - half)) / (a - b);
        edge.push({
          x: from.x + (to.x - from.x) * t + normal.x * depth,
          y: from.y + (to.y - from.y) * t + normal.y * depth,
        });
        break;
      }
    }
    return lineThrough(edge);
  });
  const corners = quad.map((_, i) => {
    const [before, after] = [lines[(i + 3) % 4], lines[i]];
    return before && after ? meet(before, after) : null;
  });
  return corners.every(corner => corner !== null) ? (corners as unknown as Quad) : null;
};
