import { cross, dot, type Solid, sub, type Vec } from './solid.ts';

/** A pinhole view: `focalPx` is the distance of the image plane in pixels. */
export interface View {
  origin: Vec;
  right: Vec;
  up: Vec;
  forward: Vec;
  focalPx: number;
  widthPx: number;
  heightPx: number;
}

export const viewTowards = (origin: Vec, target: Vec, focalPx: number, widthPx: number, heightPx: number): View => {
  const raw = sub(target, origin);
  const length = Math.hypot(...raw);
  const forward: Vec = [raw[0] / length, raw[1] / length, raw[2] / length];
  const side = cross([0, 1, 0], forward);
  const sideLength = Math.hypot(...side);
  const right: Vec = [side[0] / sideLength, side[1] / sideLength, side[2] / sideLength];
  return { origin, right, up: cross(forward, right), forward, focalPx, widthPx, heightPx };
};

/** Depth along `forward` of the nearest solid at each pixel, and which one it is (index + 1; 0 none). */
export interface Depths {
  depth: Float32Array;
  which: Uint16Array;
}

export const createDepths = (widthPx: number, heightPx: number): Depths => ({
  depth: new Float32Array(widthPx * heightPx),
  which: new Uint16Array(widthPx * heightPx),
});

const apply = (m: Float64Array, v: Vec): Vec => [
  m[0] * v[0] + m[1] * v[1] + m[2] * v[2],
  m[3] * v[0] + m[4] * v[1] + m[5] * v[2],
  m[6] * v[0] + m[7] * v[1] + m[8] * v[2],
];

/** Where a view's rays start and run, in the unit space of a solid: direction = ahead + x·acrossX + y·downY. */
export const raysInto = (view: View, solid: Solid) => {
  const half = { x: view.widthPx / 2 - 0.5, y: view.heightPx / 2 - 0.5 };
  const start = apply(solid.inverse, sub(view.origin, solid.centre));
  const across = apply(solid.inverse, view.right);
  const down = apply(solid.inverse, view.up);
  const forward = apply(solid.inverse, view.forward);
  const by = 1 / view.focalPx;
  const acrossX: Vec = [across[0] * by, across[1] * by, across[2] * by];
  const downY: Vec = [-down[0] * by, -down[1] * by, -down[2] * by];
  const ahead: Vec = [
    forward[0] - half.x * acrossX[0] - half.y * downY[0],
    forward[1] - half.x * acrossX[1] - half.y * downY[1],
    forward[2] - half.x * acrossX[2] - half.y * downY[2],
  ];
  return { start, ahead, acrossX, downY };
};

/** Pixels that a solid can touch, from the corners of the box around it. */
const boundsOf = (view: View, solid: Solid) => {
  const widest = solid.kind === 'drum' ? Math.max(solid.foot, solid.head) : 1;
  let [left, right, top, bottom] = [1e9, -1e9, 1e9, -1e9];
  for (let corner = 0; corner < 8; corner++) {
    const sx = corner & 1 ? widest : -widest;
    const sy = corner & 2 ? 1 : -1;
    const sz = corner & 4 ? widest : -widest;
    const at = (k: 0 | 1 | 2) =>
      solid.centre[k] + sx * solid.axes[0][k] + sy * solid.axes[1][k] + sz * solid.axes[2][k] - view.origin[k];
    const from: Vec = [at(0), at(1), at(2)];
    const depth = Math.max(0.05, dot(from, view.forward));
    const x = (dot(from, view.right) / depth) * view.focalPx + view.widthPx / 2;
    const y = (-dot(from, view.up) / depth) * view.focalPx + view.heightPx / 2;
    left = Math.min(left, x);
    right = Math.max(right, x);
    top = Math.min(top, y);
    bottom = Math.max(bottom, y);
  }
  return {
    left: Math.max(0, Math.floor(left)),
    right: Math.min(view.widthPx - 1, Math.ceil(right)),
    top: Math.max(0, Math.floor(top)),
    bottom: Math.min(view.heightPx - 1, Math.ceil(bottom)),
  };
};

const drawBall = (view: View, solid: Solid, mark: number, to: Depths) => {
  const { left, right, top, bottom } = boundsOf(view, solid);
  const { start, ahead, acrossX, downY } = raysInto(view, solid);
  const c = dot(start, start) - 1;
  for (let y = top; y <= bottom; y++) {
    let dx = ahead[0] + y * downY[0] + left * acrossX[0];
    let dy = ahead[1] + y * downY[1] + left * acrossX[1];
    let dz = ahead[2] + y * downY[2] + left * acrossX[2];
    const row = y * view.widthPx;
    for (let x = left; x <= right; x++) {
      const b = start[0] * dx + start[1] * dy + start[2] * dz;
      const a = dx * dx + dy * dy + dz * dz;
      const inside = b * b - a * c;
      if (inside > 0) {
        const depth = (-b - Math.sqrt(inside)) / a;
        if (depth > 0.05 && depth < to.depth[row + x]) {
          to.depth[row + x] = depth;
          to.which[row + x] = mark;
        }
      }
      dx += acrossX[0];
      dy += acrossX[1];
      dz += acrossX[2];
    }
  }
};

/** First hit of a ray with the frustum's side and ends; Infinity when it misses. */
const hitDrum = (solid: Solid, o: Vec, dx: number, dy: number, dz: number): number => {
  const m = (solid.foot + solid.head) / 2;
  const k = (solid.head - solid.foot) / 2;
  const radius = m + k * o[1];
  const a = dx * dx + dz * dz - k * k * dy * dy;
  const b = o[0] * dx + o[2] * dz - k * dy * radius;
  const c = o[0] * o[0] + o[2] * o[2] - radius * radius;
  let nearest = Number.POSITIVE_INFINITY;
  const inside = b * b - a * c;
  if (inside > 0) {
    const root = Math.sqrt(inside);
    for (const t of [(-b - root) / a, (-b + root) / a]) {
      if (t > 0.05 && t < nearest && Math.abs(o[1] + t * dy) <= 1) nearest = t;
    }
  }
  for (const end of [-1, 1]) {
    const t = (end - o[1]) / dy;
    const r = end < 0 ? solid.foot : solid.head;
    if (t > 0.05 && t < nearest && (o[0] + t * dx) ** 2 + (o[2] + t * dz) ** 2 <= r * r) nearest = t;
  }
  return nearest;
};

const drawDrum = (view: View, solid: Solid, mark: number, to: Depths) => {
  const { left, right, top, bottom } = boundsOf(view, solid);
  const { start, ahead, acrossX, downY } = raysInto(view, solid);
  for (let y = top; y <= bottom; y++) {
    for (let x = left; x <= right; x++) {
      const at = y * view.widthPx + x;
      const dx = ahead[0] + y * downY[0] + x * acrossX[0];
      const dy = ahead[1] + y * downY[1] + x * acrossX[1];
      const dz = ahead[2] + y * downY[2] + x * acrossX[2];
      const depth = hitDrum(solid, start, dx, dy, dz);
      if (depth < to.depth[at]) {
        to.depth[at] = depth;
        to.which[at] = mark;
      }
    }
  }
};

/** Draws all solids into `to`, nearest in front. */
export const cast = (view: View, solids: readonly Solid[], to: Depths): void => {
  to.depth.fill(Number.POSITIVE_INFINITY);
  to.which.fill(0);
  solids.forEach((solid, i) => {
    if (solid.kind === 'ball') drawBall(view, solid, i + 1, to);
    else drawDrum(view, solid, i + 1, to);
  });
};
