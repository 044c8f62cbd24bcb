import type { Chance } from '../random.ts';
import { type Lighting, outside, type Shadow } from './light.ts';
import { ball, drum, type Solid, type Vec } from './solid.ts';

/** Where the back wall stands. */
export const wallZ = 3.3;

const strings = [
  { from: -2.4, to: 0.1, top: 2.32, sag: 0.26, shift: 0 },
  { from: 0.1, to: 2.6, top: 2.32, sag: 0.3, shift: 3 },
];
const flag = { every: 0.23, wide: 0.185, long: 0.21 };

const stringY = (s: (typeof strings)[number], x: number): number => {
  const t = (2 * (x - s.from)) / (s.to - s.from) - 1;
  return s.top - s.sag * (1 - t * t);
};

/** Bunting at a place of the wall: what its cloth reflects, or −1 where there is none; 0 is the string itself. */
const bunting = (x: number, y: number): number => {
  for (const s of strings) {
    if (x < s.from || x > s.to) continue;
    const drop = stringY(s, x) - y;
    if (Math.abs(drop) < 0.006) return 0.3;
    const index = Math.floor((x - s.from) / flag.every);
    const off = Math.abs(x - s.from - (index + 0.5) * flag.every);
    if (drop < 0 || drop > flag.long * (1 - off / (flag.wide / 2))) continue;
    switch ((index + s.shift) % 4) {
      case 0:
        return 0.82;
      case 1:
        return 0.09;
      case 2:
        return Math.floor(drop / 0.028) % 2 ? 0.75 : 0.12;
      default: {
        const u = (off * 14) % 1;
        const v = (drop * 14) % 1;
        return (u - 0.5) ** 2 + (v - 0.5) ** 2 < 0.09 ? 0.85 : 0.22;
      }
    }
  }
  return -1;
};

/** What the wall reflects: paper with stripes above, wood below, bunting and its shadow. */
const wallAlbedo = (x: number, y: number): number => {
  const cloth = bunting(x, y);
  if (cloth >= 0) return cloth;
  const shadow = bunting(x + 0.035, y + 0.05) >= 0 ? 0.6 : 1;
  if (y < 0.95) {
    const board = ((x + 10) / 0.16) % 1;
    return (y > 0.91 ? 0.3 : board < 0.05 ? 0.07 : 0.17 + 0.02 * Math.sin(x * 60 + Math.sin(y * 9) * 3)) * shadow;
  }
  const stripe = ((x + 10) / 0.3) % 1;
  const ornament = Math.cos(((x + 10) / 0.3) * 2 * Math.PI) * Math.cos((y / 0.3) * 2 * Math.PI);
  return ((stripe < 0.5 ? 0.38 : 0.3) + (ornament > 0.86 ? 0.14 : 0)) * shadow;
};

/** The bulbs on the string above the bunting. */
export const bulbs: readonly Vec[] = strings.flatMap(s =>
  Array.from({ length: 6 }, (_, i): Vec => {
    const x = s.from + ((i + 0.5) / 6) * (s.to - s.from);
    return [x, stringY(s, x) + 0.12, wallZ - 0.12];
  }),
);

/** Whether a place of the wall is window glass, and how bright the sky is there; −1 outside. */
const windowLight = (x: number, y: number): number => {
  if (x < -0.75 || x > 0.85 || y < 1.02 || y > 2.1) return -1;
  const bar = Math.min(Math.abs(x - 0.05), Math.abs(y - 1.62), x + 0.75, 0.85 - x, y - 1.02, 2.1 - y);
  return bar < 0.025 ? 0 : 0.75 + 0.25 * ((y - 1.02) / 1.08);
};

export interface Backdrop {
  /** Luminance of the wall with its shadows into every pixel. */
  paint(shadow: Shadow, twinkle: number, into: Float32Array): void;
}

/**
 * The wall as one view sees it. What doesn't move is reckoned once: reflection, light of lamp and bulbs, and where each
 * pixel lies on the shadow map.
 */
export const createBackdrop = (
  widthPx: number,
  heightPx: number,
  focalPx: number,
  eyeY: number,
  lighting: Lighting,
  shadow: Shadow,
  options: { bulbPower: number; windowPower: number },
): Backdrop => {
  const pixels = widthPx * heightPx;
  const byLamp = new Float32Array(pixels);
  const byBulbs = new Float32Array(pixels);
  const steady = new Float32Array(pixels);
  const places = new Int32Array(pixels);
  const depths = new Float32Array(pixels);
  for (let py = 0; py < heightPx; py++) {
    for (let px = 0; px < widthPx; px++) {
      const i = py * widthPx + px;
      const x = ((px - widthPx / 2 + 0.5) / focalPx) * wallZ;
      const y = eyeY + ((heightPx / 2 - 0.5 - py) / focalPx) * wallZ;
      const sky = options.windowPower > 0 ? windowLight(x, y) : -1;
      const albedo = wallAlbedo(x, y);
      const [lx, ly, lz] = lighting.lamp.at;
      const square = (lx - x) ** 2 + (ly - y) ** 2 + (lz - wallZ) ** 2;
      byLamp[i] = sky > 0 ? 0 : (albedo * lighting.lamp.power * ((wallZ - lz) / Math.sqrt(square))) / square;
      steady[i] = sky >= 0 ? sky * options.windowPower : albedo * (lighting.above + lighting.below) * 0.5;
      for (const bulb of bulbs) {
        const near = (bulb[0] - x) ** 2 + (bulb[1] - y) ** 2;
        byBulbs[i] += (albedo * 0.012) / (near + 0.02) ** 1.5 / 8 + 0.004 / (near + 0.0012) / 8;
      }
      byBulbs[i] *= options.bulbPower;
      places[i] = byLamp[i] > 0 ? shadow.placeOf(x, y, wallZ) : outside;
      depths[i] = shadow.depthOf(x, y, wallZ);
    }
  }
  return {
    paint(now, twinkle, into) {
      for (let i = 0; i < pixels; i++) {
        into[i] = steady[i] + byBulbs[i] * twinkle + byLamp[i] * now.lit(places[i], depths[i]);
      }
    },
  };
};

/** Balloons on their strings, tied at the sides. */
export const balloons = (luck: Chance, seconds: number): Solid[] =>
  Array.from({ length: 6 }, (_, i) => {
    const side = i % 2 ? 1 : -1;
    const drift = Math.sin(seconds * 0.7 + i * 1.9) * 0.03;
    const x = side * (0.62 + 0.3 * luck.next()) + drift;
    const y = 1.75 + 0.4 * luck.next() + Math.cos(seconds * 0.9 + i) * 0.02;
    const z = 2.6 + 0.5 * luck.next();
    const albedo = luck.pick([0.75, 0.5, 0.22, 0.1]);
    return [
      ball([x, y, z], [0.115, 0.14, 0.115], { albedo, gloss: 0.7 }),
      ball([x, y - 0.15, z], [0.015, 0.016, 0.015], { albedo }),
      drum([x, y - 0.16, z], [side * 0.8 + drift * 0.3, 0.6, z], 0.003, 0.003, { albedo: 0.6 }),
    ];
  }).flat();

export const bulbSolids = (power: number): Solid[] =>
  bulbs.map(at => ball(at, [0.028, 0.036, 0.028], { albedo: 0.5, glow: 1.6 * power }));
