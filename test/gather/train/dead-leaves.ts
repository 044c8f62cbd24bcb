import type { Chance } from '../../../sim/random.ts';

/**
 * A tone image after the dead leaves model of natural images (Lee, Mumford and Huang, IJCV 2001; recalled from memory):
 * opaque shapes with radii drawn from 1/r³ cover each other; each has its own tone, shading and texture. 0 black … 1
 * white, as a camera's gamma-coded luma. Invented data: it trains the restoration, so that no photograph has to.
 */
export const deadLeaves = (width: number, height: number, chance: Chance): Float32Array => {
  const tone = new Float32Array(width * height).fill(-1);
  let left = width * height;
  const [smallest, largest] = [3, 140];
  while (left > 0) {
    const u = chance.next();
    const radius = 1 / Math.sqrt(u / smallest ** 2 + (1 - u) / largest ** 2);
    const cx = chance.next() * (width + 80) - 40;
    const cy = chance.next() * (height + 80) - 40;
    const stretch = 0.4 + 1.2 * chance.next();
    const turn = chance.next() * Math.PI;
    const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
    const base = 0.04 + 0.92 * chance.next();
    const slope = (chance.next() - 0.5) * 0.6;
    const waves = chance.hit(0.35) ? 0.08 * chance.next() : 0;
    const pitch = 0.15 + 1.1 * chance.next() ** 2;
    const square = chance.hit(0.3);
    const soft = chance.hit(0.25) ? 0.25 + 0.5 * chance.next() : 0;
    const reach = Math.ceil(radius * 1.7);
    for (let y = Math.max(0, Math.floor(cy - reach)); y < Math.min(height, cy + reach); y++)
      for (let x = Math.max(0, Math.floor(cx - reach)); x < Math.min(width, cx + reach); x++) {
        const at = y * width + x;
        if (tone[at] >= 0) continue;
        const dx = ((x - cx) * cos + (y - cy) * sin) / stretch;
        const dy = (y - cy) * cos - (x - cx) * sin;
        const d = (square ? Math.max(Math.abs(dx), Math.abs(dy)) : Math.hypot(dx, dy)) / radius;
        if (d > 1) continue;
        const value = base + (slope * (dx + dy)) / radius / 2 + waves * Math.sin(dx * pitch) - soft * d * d * base;
        tone[at] = Math.min(1, Math.max(0, value));
        left--;
      }
  }
  // Lenses and sensors blur: half a pixel of it, a third of the pictures twice.
  const passes = chance.hit(0.4) ? 2 : 1;
  for (let pass = 0; pass < passes; pass++) {
    const from = Float32Array.from(tone);
    for (let y = 1; y < height - 1; y++)
      for (let x = 1; x < width - 1; x++) {
        const i = y * width + x;
        tone[i] =
          from[i] * 0.36 +
          (from[i - 1] + from[i + 1] + from[i - width] + from[i + width]) * 0.12 +
          (from[i - width - 1] + from[i - width + 1] + from[i + width - 1] + from[i + width + 1]) * 0.04;
      }
  }
  return tone;
};
