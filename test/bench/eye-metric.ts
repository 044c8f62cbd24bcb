/**
 * How good dots are, judged apart from `src/picture`: nothing of it is used here.
 *
 * Dots are drawn round, radius in pitches, on a grid of 64 × 64 points a cell, and overlap. What the eye sees of the difference
 * e between the paper and the wanted tone is Σ e·(c ⊛ e), with the dual-Gaussian autocorrelation c of Kim and Allebach, IEEE
 * Transactions on Image Processing 11, 2002 (constants as quoted: 43.2·e^(−r²/2·0.0219²) + 38.7·e^(−r²/2·0.0598²), r in degrees),
 * at 203 dpi and 30 cm. In decibels below full scale, 1 being bare paper against solid ink in reflected light.
 */
const points = 64;
const viewingMm = 300;
const dotMm = 25.4 / 203;
const reach = 14;

/** Share of each cell that is inked; `bits` 1 is a printed dot, row by row. Equal neighbourhoods are drawn once. */
const paperOf = (bits: Uint8Array, width: number, height: number, radius: number): Float64Array => {
  const cells = [-1, 0, 1].flatMap(dy => [-1, 0, 1].map(dx => [dx, dy] as const));
  const drawn = new Map<string, number>();
  const draw = (on: readonly (readonly [number, number])[]): number => {
    let inked = 0;
    for (let v = 0; v < points; v++)
      for (let u = 0; u < points; u++) {
        const [px, py] = [(u + 0.5) / points - 0.5, (v + 0.5) / points - 0.5];
        if (on.some(([dx, dy]) => Math.hypot(px - dx, py - dy) < radius)) inked++;
      }
    return inked / points ** 2;
  };
  return Float64Array.from(bits, (_, i) => {
    const on = cells.filter(([dx, dy]) => {
      const [x, y] = [(i % width) + dx, Math.floor(i / width) + dy];
      return x >= 0 && y >= 0 && x < width && y < height && bits[y * width + x] === 1;
    });
    const key = on.join(' ');
    let share = drawn.get(key);
    if (share === undefined) {
      share = draw(on);
      drawn.set(key, share);
    }
    return share;
  });
};

const bell = (sigmaDegrees: number): Float64Array => {
  const perDot = (Math.atan(dotMm / viewingMm) * 180) / Math.PI;
  return Float64Array.from({ length: 2 * reach + 1 }, (_, i) =>
    Math.exp(-((i - reach) ** 2 * perDot ** 2) / (2 * sigmaDegrees ** 2)),
  );
};
const convolved = (e: Float64Array, width: number, height: number, kernel: Float64Array): Float64Array => {
  const rows = new Float64Array(e.length);
  const out = new Float64Array(e.length);
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++)
      for (let k = Math.max(-reach, -x); k <= Math.min(reach, width - 1 - x); k++)
        rows[y * width + x] += kernel[k + reach] * e[y * width + x + k];
  for (let y = 0; y < height; y++)
    for (let k = Math.max(-reach, -y); k <= Math.min(reach, height - 1 - y); k++)
      for (let x = 0; x < width; x++) out[y * width + x] += kernel[k + reach] * rows[(y + k) * width + x];
  return out;
};

/** Decibels of dots against the wanted ink (0 paper … 1 solid); `radius` 0: ideal square dots that don't overlap. */
export const decibels = (
  bits: Uint8Array,
  ink: ArrayLike<number>,
  width: number,
  height: number,
  radius: number,
): number => {
  const paper = radius === 0 ? Float64Array.from(bits) : paperOf(bits, width, height, radius);
  const e = paper.map((value, i) => value - ink[i]);
  let seen = 0;
  let whole = 0;
  for (const [weight, sigma] of [
    [43.2, 0.0219],
    [38.7, 0.0598],
  ] as const) {
    const kernel = bell(sigma);
    whole += weight * kernel.reduce((a, b) => a + b, 0) ** 2;
    const c = convolved(e, width, height, kernel);
    for (let i = 0; i < e.length; i++) seen += weight * e[i] * c[i];
  }
  return -10 * Math.log10(seen / whole / e.length);
};
