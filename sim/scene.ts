import { type Chance, chance } from './random.ts';
import { cast, createDepths, viewTowards } from './stage/cast.ts';
import { type Arms, type Guest, guestSolids, guests, type Pose } from './stage/guests.ts';
import { createShadow, type Lighting, shade } from './stage/light.ts';
import { balloons, bulbSolids, createBackdrop, wallZ } from './stage/room.ts';
import type { Solid, Vec } from './stage/solid.ts';
import type { Scene } from './view.ts';

export const sceneNames = ['party', 'back-lit', 'dim', 'harsh', 'noisy'] as const;
export type SceneName = (typeof sceneNames)[number];

/** The group before the lens changes after this time. */
const sceneSeconds = 7;
const eyeY = 1.42;
/** Half the horizontal field of view, as its tangent: 62° across, common for webcams (common practice, no source). */
const halfAcross = Math.tan((31 * Math.PI) / 180);
/** Wider frames are drawn at this width and enlarged: the lens of a webcam is no sharper. */
const sharpestPx = 960;

interface Mood {
  lighting: Lighting;
  bulbPower: number;
  windowPower: number;
  noise: number;
}

const mood = (name: SceneName): Mood => {
  const lamp = { at: [-0.95, 2.45, 0.1] as Vec, power: 3.6, softPx: 2.2 };
  const party: Mood = {
    lighting: { lamp, above: 0.3, below: 0.1, rim: { from: [1.4, 0.5, 0.9], power: 0.4 } },
    bulbPower: 1,
    windowPower: 0,
    noise: 1,
  };
  switch (name) {
    case 'back-lit':
      return {
        ...party,
        lighting: { lamp: { ...lamp, power: 0.5 }, above: 0.16, below: 0.08, rim: { from: [0.2, 0.6, 1], power: 1.1 } },
        bulbPower: 0.4,
        windowPower: 2.2,
      };
    case 'dim':
      return {
        ...party,
        lighting: {
          lamp: { ...lamp, power: 0.14 },
          above: 0.012,
          below: 0.004,
          rim: { from: [1, 0.4, 0.9], power: 0.03 },
        },
        bulbPower: 0.25,
        noise: 1.3,
      };
    case 'harsh':
      return {
        ...party,
        lighting: {
          lamp: { at: [-2.2, 2.1, 0.9], power: 6.5, softPx: 0.4 },
          above: 0.06,
          below: 0.02,
          rim: { from: [1, 0.4, 0.9], power: 0.05 },
        },
        bulbPower: 0.3,
      };
    case 'noisy':
      return { ...party, noise: 6 };
    default:
      return party;
  }
};

interface Placed {
  guest: Guest;
  at: Vec;
  luck: Chance;
  left: Arms;
  right: Arms;
}

/** Where a group stands: the point between each guest's shoulders. Close, as people stand for a small camera. */
const groups: readonly (readonly Vec[])[] = [
  [[0, 1.25, 1.02]],
  [
    [-0.17, 1.27, 1.3],
    [0.18, 1.21, 1.24],
  ],
  [
    [-0.27, 1.27, 1.58],
    [0.02, 1.14, 1.36],
    [0.29, 1.24, 1.6],
  ],
  [
    [-0.33, 1.2, 1.72],
    [-0.12, 1.36, 1.95],
    [0.13, 1.13, 1.6],
    [0.35, 1.28, 1.85],
  ],
];

const freeArms: readonly Arms[] = ['down', 'up', 'up', 'wave', 'cup', 'hips'];
const closeArms: readonly Arms[] = ['down', 'down', 'cup'];

/**
 * A party that never took place: guests before a papered wall with bunting, bulbs and balloons, lit by one lamp.
 * Everything is drawn from `seed` and the moment; the same moment always looks the same.
 */
export const createScene = (name: SceneName = 'party', seed = 1): Scene => {
  const { lighting, bulbPower, windowPower, noise } = mood(name);
  const shadow = createShadow();
  const brightnessOf = new Map<number, number>();

  const groupAt = (index: number): Placed[] => {
    const luck = chance(seed).fork(`group ${index}`);
    const places = groups[(index + luck.whole(0, 1)) % groups.length];
    // Strides without a common factor with their number: everybody comes, and nobody twice in a row.
    const first = (seed + index * 5) % guests.length;
    return places.map((at, i) => ({
      guest: guests[(first + i) % guests.length],
      at: [at[0] + luck.normal() * 0.015, at[1] + luck.normal() * 0.02, at[2] + luck.normal() * 0.04],
      luck: luck.fork(`guest ${i}`),
      // Nobody raises an arm before a neighbour's face.
      left: luck.pick(i === 0 ? freeArms : closeArms),
      right: luck.pick(i === places.length - 1 ? freeArms : closeArms),
    }));
  };

  const solidsAt = (seconds: number): Solid[] => {
    const index = Math.floor(seconds / sceneSeconds);
    const people = groupAt(index).flatMap(({ guest, at, luck, left, right }) => {
      const phase = luck.next() * 6.28;
      const sway = Math.sin(seconds * (0.8 + luck.next() * 0.5) + phase);
      const pose: Pose = {
        at: [at[0] + sway * 0.014, at[1] + Math.abs(sway) * 0.006, at[2]],
        body: -at[0] * 0.35 + luck.normal() * 0.1 + sway * 0.03,
        head: {
          yaw: luck.normal() * 0.14 + Math.sin(seconds * 0.5 + phase) * 0.08,
          pitch: -0.04 + luck.normal() * 0.05,
          roll: luck.normal() * 0.1 + sway * 0.04,
        },
        left,
        right,
        blink: (seconds * 0.31 + phase) % 1 < 0.035,
        joy: Math.min(1, 0.35 + 0.65 * luck.next()),
        swing: seconds * 5 + phase,
      };
      return guestSolids(guest, pose);
    });
    return [...people, ...balloons(chance(seed).fork(`balloons ${index >> 1}`), seconds), ...bulbSolids(bulbPower)];
  };

  const createStage = (widthPx: number, heightPx: number) => {
    // The wider side of the sensor sees the whole angle, however it is turned.
    const focalPx = Math.max(widthPx, heightPx) / 2 / halfAcross;
    const view = viewTowards([0, eyeY, 0], [0, eyeY, wallZ], focalPx, widthPx, heightPx);
    const depths = createDepths(widthPx, heightPx);
    shadow.cast(lighting, []);
    const backdrop = createBackdrop(widthPx, heightPx, focalPx, eyeY, lighting, shadow, { bulbPower, windowPower });
    const light = new Float32Array(widthPx * heightPx);
    return (seconds: number): Float32Array => {
      const solids = solidsAt(seconds);
      shadow.cast(lighting, solids);
      backdrop.paint(shadow, 0.9 + 0.1 * Math.sin(seconds * 2.1), light);
      cast(view, solids, depths);
      shade(view, solids, depths, lighting, shadow, light);
      return light;
    };
  };
  const stages = new Map<string, (seconds: number) => Float32Array>();
  const stageFor = (widthPx: number, heightPx: number) => {
    const key = `${widthPx}×${heightPx}`;
    const stage = stages.get(key) ?? createStage(widthPx, heightPx);
    stages.set(key, stage);
    return stage;
  };

  return {
    noise,
    metered: true,
    brightness(atUs) {
      const index = Math.floor(atUs / 1e6 / sceneSeconds);
      let mean = brightnessOf.get(index);
      if (mean === undefined) {
        const small = stageFor(64, 36)((index + 0.5) * sceneSeconds);
        mean = small.reduce((sum, value) => sum + Math.min(value, 1.5), 0) / small.length;
        if (brightnessOf.size > 256) brightnessOf.clear();
        brightnessOf.set(index, mean);
      }
      return mean;
    },
    look(atUs, widthPx, heightPx, into) {
      const part = Math.min(1, sharpestPx / Math.max(widthPx, heightPx));
      const drawnWidth = Math.round(widthPx * part);
      const drawnHeight = Math.round(heightPx * part);
      enlarge(stageFor(drawnWidth, drawnHeight)(atUs / 1e6), drawnWidth, drawnHeight, into, widthPx, heightPx);
    },
  };
};

/** Bilinear, pixel centres on pixel centres. */
const enlarge = (from: Float32Array, fw: number, fh: number, to: Float32Array, tw: number, th: number): void => {
  if (fw === tw && fh === th) {
    to.set(from);
    return;
  }
  const columns = new Int32Array(tw);
  const parts = new Float32Array(tw);
  for (let x = 0; x < tw; x++) {
    const at = Math.min(fw - 1.001, Math.max(0, ((x + 0.5) * fw) / tw - 0.5));
    columns[x] = Math.floor(at);
    parts[x] = at - columns[x];
  }
  for (let y = 0; y < th; y++) {
    const at = Math.min(fh - 1.001, Math.max(0, ((y + 0.5) * fh) / th - 0.5));
    const row = Math.floor(at) * fw;
    const down = at - Math.floor(at);
    for (let x = 0; x < tw; x++) {
      const i = row + columns[x];
      const above = from[i] + (from[i + 1] - from[i]) * parts[x];
      const below = from[i + fw] + (from[i + fw + 1] - from[i + fw]) * parts[x];
      to[y * tw + x] = above + (below - above) * down;
    }
  }
};
