import { cast, createDepths, type Depths, raysInto, type View, viewTowards } from './cast.ts';
import { type Solid, scale, unit, type Vec } from './solid.ts';

export interface Lighting {
  /** The lamp that throws shadows: where it hangs, and its light at one metre. */
  lamp: { at: Vec; power: number; softPx: number };
  /** Light from everywhere, from above and from below. */
  above: number;
  below: number;
  /** A second light without shadow, from behind or the side. */
  rim: { from: Vec; power: number };
}

const shadowPx = 320;
/** A place that the lamp's view doesn't cover: it is lit. */
export const outside = -1;
/** How far before a surface its own shadow may begin, m. */
const biasM = 0.025;

/** What the lamp sees: who is farther from it than that stands in shadow. */
export const createShadow = () => {
  const depths = createDepths(shadowPx, shadowPx);
  const at = new Float64Array(3);
  /** Rows: right and up times the focal length, forward. */
  const axes = new Float64Array(9);
  const taps = new Int32Array(4);
  let margin = 1;
  return {
    cast(lighting: Lighting, solids: readonly Solid[]) {
      const view = viewTowards(lighting.lamp.at, [0, 1.25, 2.6], shadowPx * 0.62, shadowPx, shadowPx);
      at.set(view.origin);
      axes.set([...scale(view.right, view.focalPx), ...scale(view.up, view.focalPx), ...view.forward]);
      const near = Math.round(lighting.lamp.softPx * 0.4);
      const far = Math.round(lighting.lamp.softPx);
      margin = far + 1;
      taps.set([-near * shadowPx - far, -far * shadowPx + near, near * shadowPx + far, far * shadowPx - near]);
      cast(view, solids, depths);
    },
    /** Index of a point's place on the lamp's view, or `outside`. */
    placeOf(x: number, y: number, z: number): number {
      const [dx, dy, dz] = [x - at[0], y - at[1], z - at[2]];
      const depth = dx * axes[6] + dy * axes[7] + dz * axes[8];
      const px = ((dx * axes[0] + dy * axes[1] + dz * axes[2]) / depth + shadowPx / 2) | 0;
      const py = (-(dx * axes[3] + dy * axes[4] + dz * axes[5]) / depth + shadowPx / 2) | 0;
      if (depth <= 0 || px < margin || py < margin || px >= shadowPx - margin || py >= shadowPx - margin)
        return outside;
      return py * shadowPx + px;
    },
    /** Its distance from the lamp along the lamp's view, m. */
    depthOf: (x: number, y: number, z: number): number =>
      (x - at[0]) * axes[6] + (y - at[1]) * axes[7] + (z - at[2]) * axes[8],
    /** Part of the lamp that is seen from there, 0…1. */
    lit(place: number, depth: number): number {
      if (place === outside) return 1;
      const near = depth - biasM;
      const { depth: seen } = depths;
      return (
        ((seen[place + taps[0]] > near ? 1 : 0) +
          (seen[place + taps[1]] > near ? 1 : 0) +
          (seen[place + taps[2]] > near ? 1 : 0) +
          (seen[place + taps[3]] > near ? 1 : 0)) *
        0.25
      );
    },
  };
};
export type Shadow = ReturnType<typeof createShadow>;

/** Luminance of every pixel that shows a solid; the others are left as they are. */
export const shade = (
  view: View,
  solids: readonly Solid[],
  depths: Depths,
  lighting: Lighting,
  shadow: Shadow,
  into: Float32Array,
): void => {
  const rays = solids.map(solid => raysInto(view, solid));
  const rim = unit(lighting.rim.from);
  const { lamp } = lighting;
  for (let y = 0; y < view.heightPx; y++) {
    const v = (view.heightPx / 2 - 0.5 - y) / view.focalPx;
    for (let x = 0; x < view.widthPx; x++) {
      const at = y * view.widthPx + x;
      const mark = depths.which[at];
      if (mark === 0) continue;
      const solid = solids[mark - 1];
      const { start, ahead, acrossX, downY } = rays[mark - 1];
      const depth = depths.depth[at];
      const px = start[0] + depth * (ahead[0] + x * acrossX[0] + y * downY[0]);
      const py = start[1] + depth * (ahead[1] + x * acrossX[1] + y * downY[1]);
      const pz = start[2] + depth * (ahead[2] + x * acrossX[2] + y * downY[2]);
      let lx = px;
      let ly = py;
      let lz = pz;
      if (solid.kind === 'drum') {
        if (Math.abs(py) > 0.9999) {
          lx = 0;
          lz = 0;
        } else
          ly =
            -((solid.head - solid.foot) / 2) * ((solid.foot + solid.head) / 2 + ((solid.head - solid.foot) / 2) * py);
      }
      const m = solid.inverse;
      let nx = m[0] * lx + m[3] * ly + m[6] * lz;
      let ny = m[1] * lx + m[4] * ly + m[7] * lz;
      let nz = m[2] * lx + m[5] * ly + m[8] * lz;
      const length = 1 / Math.sqrt(nx * nx + ny * ny + nz * nz);
      nx *= length;
      ny *= length;
      nz *= length;

      const u = (x - view.widthPx / 2 + 0.5) / view.focalPx;
      const wx = view.origin[0] + depth * (view.forward[0] + u * view.right[0] + v * view.up[0]);
      const wy = view.origin[1] + depth * (view.forward[1] + u * view.right[1] + v * view.up[1]);
      const wz = view.origin[2] + depth * (view.forward[2] + u * view.right[2] + v * view.up[2]);
      const tx = lamp.at[0] - wx;
      const ty = lamp.at[1] - wy;
      const tz = lamp.at[2] - wz;
      const square = tx * tx + ty * ty + tz * tz;
      const distance = Math.sqrt(square);
      const facing = (nx * tx + ny * ty + nz * tz) / distance;
      let light = lighting.below + (lighting.above - lighting.below) * (0.5 + 0.5 * ny);
      let shine = 0;
      if (facing > 0) {
        const fx = wx + nx * 0.01;
        const fy = wy + ny * 0.01;
        const fz = wz + nz * 0.01;
        const seen = shadow.lit(shadow.placeOf(fx, fy, fz), shadow.depthOf(fx, fy, fz));
        light += (seen * lamp.power * facing) / square;
        if (solid.material.gloss && seen > 0) {
          // Halfway between lamp and lens (Blinn).
          const ex = -wx + view.origin[0];
          const ey = -wy + view.origin[1];
          const ez = -wz + view.origin[2];
          const eye = 1 / Math.sqrt(ex * ex + ey * ey + ez * ez);
          const hx = tx / distance + ex * eye;
          const hy = ty / distance + ey * eye;
          const hz = tz / distance + ez * eye;
          const half = (nx * hx + ny * hy + nz * hz) / Math.sqrt(hx * hx + hy * hy + hz * hz);
          shine = half > 0 ? (seen * solid.material.gloss * lamp.power * half ** 40) / 3.6 : 0;
        }
      }
      const behind = nx * rim[0] + ny * rim[1] + nz * rim[2];
      if (behind > 0) light += behind * lighting.rim.power;
      const { albedo, glow } = solid.material;
      into[at] = (typeof albedo === 'number' ? albedo : albedo(px, py, pz)) * light + shine + (glow ?? 0);
    }
  }
};
