import { add, ball, drum, limb, type Material, type Solid, scale, turned, type Vec } from './solid.ts';

/** Who comes to the party. Skin, hair and cloth are parts of the light that come back. */
export interface Guest {
  skin: number;
  hair: number;
  cut: 'short' | 'long' | 'bun' | 'curls' | 'none';
  beard: boolean;
  glasses: boolean;
  hat: 'cone' | 'crown' | 'none';
  cloth: 'band' | 'stripes' | 'checks' | 'spots' | 'collar';
  light: number;
  dark: number;
  size: number;
}

export type Arms = 'down' | 'up' | 'wave' | 'cup' | 'hips';

/** How a guest stands at a moment. */
export interface Pose {
  at: Vec;
  /** Turn of the body and of the head, radians. */
  body: number;
  head: { yaw: number; pitch: number; roll: number };
  left: Arms;
  right: Arms;
  blink: boolean;
  /** 0 calm … 1 laughing. */
  joy: number;
  /** Sway for arms that move, radians. */
  swing: number;
}

type Looks = Partial<Guest> & Pick<Guest, 'skin' | 'hair' | 'cut' | 'cloth'>;
const guest = (looks: Looks): Guest => ({
  beard: false,
  glasses: false,
  hat: 'none',
  light: 0.78,
  dark: 0.09,
  size: 1,
  ...looks,
});

/** Everybody who was asked to the party. */
export const guests: readonly Guest[] = [
  guest({ skin: 0.3, hair: 0.03, cut: 'curls', glasses: true, cloth: 'stripes' }),
  guest({ skin: 0.64, hair: 0.4, cut: 'long', hat: 'cone', cloth: 'spots', size: 0.96 }),
  guest({ skin: 0.54, hair: 0.05, cut: 'short', beard: true, cloth: 'checks', size: 1.05 }),
  guest({ skin: 0.46, hair: 0.16, cut: 'bun', cloth: 'band', light: 0.7, dark: 0.06 }),
  guest({ skin: 0.62, hair: 0.45, cut: 'short', glasses: true, cloth: 'collar', size: 1.03 }),
  guest({ skin: 0.4, hair: 0.03, cut: 'long', hat: 'crown', cloth: 'stripes', dark: 0.16, size: 0.97 }),
  guest({ skin: 0.28, hair: 0.03, cut: 'none', beard: true, cloth: 'spots', dark: 0.2, size: 1.05 }),
  guest({ skin: 0.66, hair: 0.2, cut: 'curls', cloth: 'checks', dark: 0.14, size: 0.95 }),
  guest({ skin: 0.34, hair: 0.03, cut: 'short', hat: 'cone', cloth: 'band', light: 0.12, dark: 0.8, size: 1.02 }),
  guest({ skin: 0.56, hair: 0.06, cut: 'bun', glasses: true, cloth: 'spots', light: 0.2, dark: 0.7 }),
  guest({ skin: 0.5, hair: 0.04, cut: 'long', cloth: 'checks', light: 0.6, size: 0.98 }),
  guest({ skin: 0.6, hair: 0.12, cut: 'short', hat: 'crown', beard: true, cloth: 'stripes', size: 1.04 }),
];

const oval = (x: number, y: number, cx: number, cy: number, rx: number, ry: number) =>
  ((x - cx) / rx) ** 2 + ((y - cy) / ry) ** 2;

/** Eyes, brows, mouth and beard painted on the front of the head; x right, y up, −z is where the face looks. */
const face =
  (guest: Guest, pose: Pose): Exclude<Material['albedo'], number> =>
  (x, y, z) => {
    const { skin, hair } = guest;
    if (z > -0.1) return skin;
    const side = Math.abs(x);
    const eye = oval(side, y, 0.34, 0.1, 0.155, pose.blink ? 0.03 : 0.1);
    if (pose.blink ? eye < 1 : eye < 1.35 && y > 0.1 && eye > 0.8) return 0.03;
    if (eye < 1) {
      if (oval(side, y, 0.36, 0.13, 0.022, 0.022) < 1) return 1.4;
      const pupil = oval(side, y, 0.34, 0.1, 0.075, 0.088);
      return pupil < 0.35 ? 0.01 : pupil < 1 ? 0.1 : 0.8;
    }
    const browY = 0.335 + 0.05 * pose.joy - 0.5 * (side - 0.34) ** 2;
    if (Math.abs(side - 0.34) < 0.2 && Math.abs(y - browY) < 0.034) return Math.min(hair, skin * 0.6);
    if (guest.glasses) {
      const rim = oval(side, y, 0.34, 0.08, 0.25, 0.22);
      if ((rim > 0.78 && rim < 1.15) || (side < 0.1 && Math.abs(y - 0.1) < 0.025)) return 0.03;
    }
    // A smile: lens between two arcs, teeth above.
    const wide = 0.3 + 0.08 * pose.joy;
    const along = x / wide;
    if (Math.abs(along) < 1) {
      const upper = -0.5 + 0.1 * along * along;
      const lower = -0.5 - (0.06 + 0.2 * pose.joy) * (1 - along * along) + 0.1 * along * along;
      if (y < upper + 0.03 && y > lower - 0.045) {
        if (y > upper || y < lower) return skin * 0.55;
        return y > upper - 0.085 ? 0.85 : 0.06;
      }
    }
    // Along the jaw up to the ears, and over the lip.
    const jaw = -0.66 + 0.9 * Math.max(0, side - 0.4) ** 1.15;
    const lip = side < 0.3 && Math.abs(y + 0.43 + 0.25 * side * side) < 0.055;
    if (guest.beard && (y < jaw || lip)) return hair * 1.1;
    const cheek = oval(side, y, 0.5, -0.22, 0.2, 0.16);
    return cheek < 1 ? skin * (0.93 + 0.07 * cheek) : skin;
  };

const cloth =
  (guest: Guest): Exclude<Material['albedo'], number> =>
  (x, y, z) => {
    const { light, dark } = guest;
    switch (guest.cloth) {
      case 'stripes':
        return Math.floor(y * 9 + 100) % 2 ? light : dark;
      case 'checks':
        return 0.5 * (Math.floor(y * 6 + 100) % 2 ? light : dark) + 0.5 * (Math.floor(x * 6 + 100) % 2 ? light : dark);
      case 'spots': {
        const u = x * 5.5 + 100 + (Math.floor(y * 7 + 100) % 2) * 0.5;
        const v = y * 7 + 100;
        return (u - Math.floor(u) - 0.5) ** 2 + (v - Math.floor(v) - 0.5) ** 2 < 0.075 ? light : dark;
      }
      case 'collar':
        return z < 0 && Math.abs(x) < 0.34 * (y + 0.15) ? 0.8 : z < 0 && Math.abs(x) < 0.025 ? light * 0.4 : dark * 1.6;
      default:
        // One broad band with a narrow one at each side.
        return Math.abs(y - 0.1) < 0.2 || (Math.abs(y - 0.1) > 0.28 && Math.abs(y - 0.1) < 0.34) ? light : dark;
    }
  };

const headOf = (guest: Guest, pose: Pose, neck: Vec): Solid[] => {
  const frame = turned(pose.head.yaw + pose.body, pose.head.pitch, pose.head.roll);
  const s = guest.size;
  const at = (x: number, y: number, z: number): Vec =>
    add(add(add(centre, frame[0], x * 0.085 * s), frame[1], y * 0.112 * s), frame[2], z * 0.095 * s);
  const centre = add(neck, add(scale(frame[1], 0.125 * s), scale(frame[2], -0.012)));
  const skin: Material = { albedo: guest.skin, gloss: 0.05 };
  const hair: Material = { albedo: guest.hair, gloss: 0.06 };
  const head = (r: Vec): Vec => [r[0] * 0.085 * s, r[1] * 0.112 * s, r[2] * 0.095 * s];
  const solids: Solid[] = [
    ball(centre, head([1, 1, 1]), { albedo: face(guest, pose), gloss: 0.05 }, frame),
    ball(at(0, -0.14, -1.02), head([0.15, 0.16, 0.18]), skin, frame),
    ball(at(0.98, 0, 0.1), head([0.12, 0.22, 0.2]), skin, frame),
    ball(at(-0.98, 0, 0.1), head([0.12, 0.22, 0.2]), skin, frame),
  ];
  if (guest.cut !== 'none') solids.push(ball(at(0, 0.3, 0.3), head([1.08, 0.92, 1.0]), hair, frame));
  if (guest.cut === 'long') {
    solids.push(ball(at(0, -0.35, 0.55), head([1.12, 1.35, 0.62]), hair, frame));
    for (const side of [-1, 1]) solids.push(ball(at(side * 0.95, -0.5, 0.05), head([0.26, 1.1, 0.42]), hair, frame));
  }
  if (guest.cut === 'bun') solids.push(ball(at(0, 1.25, 0.35), head([0.42, 0.36, 0.42]), hair, frame));
  if (guest.cut === 'curls') {
    for (let i = 0; i < 9; i++) {
      const angle = (i / 8) * Math.PI;
      solids.push(
        ball(at(Math.cos(angle) * 1.0, 0.35 + Math.sin(angle) * 0.62, 0.05), head([0.36, 0.3, 0.42]), hair, frame),
      );
    }
  }
  if (guest.beard) solids.push(ball(at(0, -0.84, -0.3), head([0.5, 0.28, 0.5]), { albedo: guest.hair * 1.1 }, frame));
  if (guest.hat === 'cone') {
    const bands: Material['albedo'] = (x, y, z) => (Math.floor(y * 3 + Math.atan2(z, x) * 0.95 + 50) % 2 ? 0.8 : 0.14);
    solids.push(drum(at(0.05, 0.9, 0.1), at(0.16, 2.35, 0.2), 0.068 * s, 0.002, { albedo: bands }));
    solids.push(ball(at(0.165, 2.4, 0.2), 0.019, { albedo: 0.85 }));
  }
  if (guest.hat === 'crown') {
    solids.push(drum(at(0, 0.72, 0.1), at(0, 1.06, 0.1), 0.083 * s, 0.089 * s, { albedo: 0.62, gloss: 0.5 }));
    for (let i = 0; i < 7; i++) {
      const angle = (i / 7) * 2 * Math.PI;
      const [x, z] = [Math.cos(angle) * 1.03, Math.sin(angle) * 0.92 + 0.1];
      solids.push(drum(at(x, 1.0, z), at(x * 1.05, 1.5, z * 1.05), 0.024, 0.001, { albedo: 0.62, gloss: 0.5 }));
    }
  }
  return solids;
};

const cup = (hand: Vec): Solid[] => [
  drum(add(hand, [0, -0.05, -0.02]), add(hand, [0, 0.065, -0.02]), 0.03, 0.04, {
    albedo: (_x, y) => (y > 0.55 && y < 0.85 ? 0.75 : y > 0.98 ? 0.1 : 0.28),
    gloss: 0.25,
  }),
];

const armOf = (guest: Guest, pose: Pose, shoulder: Vec, side: -1 | 1, arms: Arms): Solid[] => {
  const s = guest.size;
  const sleeve: Material = { albedo: guest.cloth === 'collar' ? guest.dark * 1.6 : cloth(guest) };
  const skin: Material = { albedo: guest.skin, gloss: 0.04 };
  const to = (from: Vec, x: number, y: number, z: number): Vec => add(from, [side * x * s, y * s, z * s]);
  const swing = Math.sin(pose.swing) * 0.06;
  const [elbow, hand] = (() => {
    switch (arms) {
      case 'up': {
        const bent = to(shoulder, 0.13, 0.17 + swing * 0.4, -0.04);
        return [bent, to(bent, 0.05 + swing, 0.25, -0.03)];
      }
      case 'wave': {
        const bent = to(shoulder, 0.17, -0.12, -0.08);
        return [bent, to(bent, 0.06 + swing, 0.24, -0.05)];
      }
      case 'cup': {
        const bent = to(shoulder, 0.08, -0.24, -0.06);
        return [bent, to(bent, -0.06, 0.13 + swing * 0.3, -0.18)];
      }
      case 'hips': {
        const bent = to(shoulder, 0.2, -0.2, 0.05);
        return [bent, to(bent, -0.15, -0.13, -0.1)];
      }
      default: {
        const bent = to(shoulder, 0.06, -0.27, 0);
        return [bent, to(bent, 0, -0.25, -0.04)];
      }
    }
  })();
  const solids = [
    limb(shoulder, elbow, 0.052 * s, sleeve),
    limb(elbow, hand, 0.037 * s, skin),
    ball(hand, [0.04 * s, 0.048 * s, 0.032 * s], skin),
  ];
  if (arms === 'wave' || arms === 'up') {
    for (let finger = -1.5; finger <= 1.5; finger++) {
      solids.push(limb(hand, to(hand, finger * 0.026 + swing * 0.3, 0.085, 0), 0.0105 * s, skin));
    }
  }
  return arms === 'cup' ? [...solids, ...cup(hand)] : solids;
};

/** The solids of one guest, from the waist up. `pose.at` is the point between the shoulders. */
export const guestSolids = (guest: Guest, pose: Pose): Solid[] => {
  const s = guest.size;
  const frame = turned(pose.body);
  const shirt: Material = { albedo: cloth(guest) };
  const shoulders = pose.at;
  const shoulder = (side: -1 | 1): Vec => add(add(shoulders, frame[0], side * 0.175 * s), [0, -0.035 * s, 0]);
  const chest = add(shoulders, [0, -0.2 * s, 0]);
  return [
    ball(chest, [0.185 * s, 0.27 * s, 0.115 * s], shirt, frame),
    ball(add(shoulders, [0, -0.055 * s, 0]), [0.205 * s, 0.085 * s, 0.09 * s], shirt, frame),
    drum(add(shoulders, [0, -0.42 * s, 0]), add(shoulders, [0, -0.85 * s, 0]), 0.15 * s, 0.17 * s, {
      albedo: guest.dark * 0.8,
    }),
    ball(add(shoulders, [0, -0.4 * s, 0]), [0.17 * s, 0.22 * s, 0.112 * s], shirt, frame),
    drum(add(shoulders, [0, -0.03, 0]), add(shoulders, [0, 0.07 * s, -0.01]), 0.05 * s, 0.046 * s, {
      albedo: guest.skin * 0.95,
    }),
    ...headOf(guest, pose, add(shoulders, [0, 0.055 * s, -0.01])),
    ...armOf(guest, pose, shoulder(1), 1, pose.right),
    ...armOf(guest, pose, shoulder(-1), -1, pose.left),
  ];
};
