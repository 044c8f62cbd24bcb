/** Solids of the stage: balls and drums (frustums) under an affine transform. Metres; x right, y up, z away from the lens. */
export type Vec = readonly [number, number, number];

export interface Material {
  /** Part of the light that comes back, constant or by place on the unit solid. */
  albedo: number | ((x: number, y: number, z: number) => number);
  /** Strength of the highlight. */
  gloss?: number;
  /** Light of its own. */
  glow?: number;
}

export interface Solid {
  kind: 'ball' | 'drum';
  centre: Vec;
  /** Columns: where the unit axes go. */
  axes: readonly [Vec, Vec, Vec];
  /** World to unit solid, row by row. */
  inverse: Float64Array;
  /** Radius of a drum at its foot (y = −1) and head (y = 1). */
  foot: number;
  head: number;
  material: Material;
}

export const add = (a: Vec, b: Vec, times = 1): Vec => [a[0] + b[0] * times, a[1] + b[1] * times, a[2] + b[2] * times];
export const sub = (a: Vec, b: Vec): Vec => add(a, b, -1);
export const scale = (a: Vec, by: number): Vec => [a[0] * by, a[1] * by, a[2] * by];
export const dot = (a: Vec, b: Vec): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
export const cross = (a: Vec, b: Vec): Vec => [
  a[1] * b[2] - a[2] * b[1],
  a[2] * b[0] - a[0] * b[2],
  a[0] * b[1] - a[1] * b[0],
];
export const unit = (a: Vec): Vec => scale(a, 1 / (Math.hypot(...a) || 1));

const inverseOf = (axes: Solid['axes']): Float64Array => {
  const [a, b, c] = axes;
  const bc = cross(b, c);
  const ca = cross(c, a);
  const ab = cross(a, b);
  const by = 1 / dot(a, bc);
  return Float64Array.from([...scale(bc, by), ...scale(ca, by), ...scale(ab, by)]);
};

const solid = (
  kind: Solid['kind'],
  centre: Vec,
  axes: Solid['axes'],
  material: Material,
  foot = 1,
  head = 1,
): Solid => ({
  kind,
  centre,
  axes,
  inverse: inverseOf(axes),
  foot,
  head,
  material,
});

/** Right, up and away of something that is turned: yaw about y, then pitch about x, then roll about z, radians. */
export const turned = (yaw: number, pitch = 0, roll = 0): readonly [Vec, Vec, Vec] => {
  const [cy, sy, cp, sp, cr, sr] = [yaw, pitch, roll].flatMap(angle => [Math.cos(angle), Math.sin(angle)]);
  const rotate = ([x, y, z]: Vec): Vec => {
    const [x1, y1] = [x * cr - y * sr, x * sr + y * cr];
    const [y2, z2] = [y1 * cp - z * sp, y1 * sp + z * cp];
    return [x1 * cy + z2 * sy, y2, -x1 * sy + z2 * cy];
  };
  return [rotate([1, 0, 0]), rotate([0, 1, 0]), rotate([0, 0, 1])];
};

const upright = turned(0);

export const ball = (centre: Vec, radii: Vec | number, material: Material, frame = upright): Solid => {
  const [rx, ry, rz] = typeof radii === 'number' ? [radii, radii, radii] : radii;
  return solid('ball', centre, [scale(frame[0], rx), scale(frame[1], ry), scale(frame[2], rz)], material);
};

const along = (from: Vec, to: Vec): [Vec, Vec, Vec] => {
  const y = unit(sub(to, from));
  const x = unit(cross(Math.abs(y[2]) < 0.9 ? [0, 0, 1] : [0, 1, 0], y));
  return [x, y, cross(x, y)];
};

/** A frustum from `from` (radius `foot`) to `to` (radius `head`), in metres. */
export const drum = (from: Vec, to: Vec, foot: number, head: number, material: Material): Solid => {
  const [x, y, z] = along(from, to);
  const half = Math.hypot(...sub(to, from)) / 2;
  return solid('drum', scale(add(from, to), 0.5), [x, scale(y, half), z], material, foot, head);
};

/** A rounded limb between two joints. */
export const limb = (from: Vec, to: Vec, radius: number, material: Material): Solid => {
  const [x, y, z] = along(from, to);
  const half = Math.hypot(...sub(to, from)) / 2 + radius * 0.8;
  return solid('ball', scale(add(from, to), 0.5), [scale(x, radius), scale(y, half), scale(z, radius)], material);
};
