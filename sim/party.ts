import { profileSchema } from '../src/config/profile.ts';
import { configSchema } from '../src/config/schema.ts';
import type { FaultName } from './faults.ts';
import { type Chance, chance } from './random.ts';
import { type Script, type Step, scriptSchema, stepsEndS } from './script.ts';

/**
 * How often things happen, as exact ratios: of 1,000 turns of a party so many are of each kind. A turn comes about every
 * `turnS` seconds.
 */
export const turns = {
  press: 640,
  double: 60,
  mash: 90,
  hold: 30,
  storm: 60,
  nothing: 120,
} as const;

/** Of 1,000 turns this many bring a fault as well. */
const faultyTurns = 260;

/** Of the faults, weights of each, and how long it lasts, seconds. */
const faultWeights: readonly { fault: FaultName | 'cut'; weight: number; fromS: number; toS: number }[] = [
  { fault: 'cut', weight: 16, fromS: 0.3, toS: 6 },
  { fault: 'power-cut', weight: 6, fromS: 0.3, toS: 6 },
  { fault: 'brown-out', weight: 4, fromS: 0.3, toS: 3 },
  { fault: 'paper-out', weight: 8, fromS: 2, toS: 12 },
  // Nobody opens and shuts a lid, and no head cools, between two questions for the status.
  { fault: 'lid-open', weight: 6, fromS: 2, toS: 8 },
  { fault: 'head-hot', weight: 4, fromS: 3, toS: 10 },
  { fault: 'near-end', weight: 2, fromS: 1, toS: 10 },
  { fault: 'printer-unplugged', weight: 6, fromS: 0.2, toS: 8 },
  // A printer that loses its power for less than a status takes to be missed can't be told from one that didn't.
  { fault: 'printer-off', weight: 3, fromS: 6, toS: 12 },
  { fault: 'webcam-unplugged', weight: 6, fromS: 0.2, toS: 6 },
  { fault: 'webcam-frozen', weight: 4, fromS: 0.5, toS: 5 },
  { fault: 'frames-dropped', weight: 4, fromS: 0.3, toS: 0.3 },
  { fault: 'frames-stale', weight: 4, fromS: 0.3, toS: 0.3 },
  { fault: 'frames-torn', weight: 2, fromS: 0.3, toS: 0.3 },
  { fault: 'button-stuck', weight: 2, fromS: 0.1, toS: 4 },
  { fault: 'contact-loose', weight: 3, fromS: 0.02, toS: 0.8 },
  { fault: 'coil-dead', weight: 2, fromS: 0.5, toS: 6 },
  { fault: 'coil-jammed', weight: 2, fromS: 0.5, toS: 6 },
  { fault: 'battery-weak', weight: 2, fromS: 1, toS: 8 },
  { fault: 'darkroom-slow', weight: 2, fromS: 1, toS: 8 },
  { fault: 'disk-full', weight: 3, fromS: 1, toS: 10 },
  { fault: 'disk-read-only', weight: 2, fromS: 1, toS: 10 },
  { fault: 'disk-failing', weight: 3, fromS: 0.3, toS: 0.3 },
  { fault: 'disk-slow', weight: 3, fromS: 1, toS: 8 },
  { fault: 'console-jammed', weight: 2, fromS: 1, toS: 20 },
  { fault: 'console-slow', weight: 2, fromS: 1, toS: 20 },
  { fault: 'clock-set', weight: 1, fromS: 0.3, toS: 0.3 },
  { fault: 'clock-back', weight: 1, fromS: 0.3, toS: 0.3 },
  { fault: 'stall', weight: 5, fromS: 0.02, toS: 2.5 },
];

const drawWeighted = <T extends { weight: number }>(luck: Chance, from: readonly T[]): T => {
  let left = luck.whole(
    1,
    from.reduce((sum, { weight }) => sum + weight, 0),
  );
  for (const one of from) {
    left -= one.weight;
    if (left <= 0) return one;
  }
  return from[from.length - 1];
};

const hundredths = (value: number) => Math.round(value * 100) / 100;

const drawTurn = (luck: Chance, atS: number): Step[] => {
  const kind = drawWeighted(
    luck,
    Object.entries(turns).map(([name, weight]) => ({ name: name as keyof typeof turns, weight })),
  ).name;
  switch (kind) {
    case 'press':
      return [{ do: 'press', atS, holdMs: luck.whole(15, 400), bounce: luck.hit(0.9) }];
    case 'double':
      return [{ do: 'double', atS, gapMs: luck.whole(60, 340) }];
    case 'mash':
      return [{ do: 'mash', atS, times: luck.whole(3, 9), everyMs: luck.whole(40, 260), holdMs: luck.whole(15, 60) }];
    case 'hold':
      return [{ do: 'press', atS, holdMs: luck.whole(1100, 2500), bounce: true }];
    case 'storm':
      return [{ do: 'storm', atS, forMs: luck.whole(2, 120), gapUs: luck.whole(50, 3000) }];
    default:
      return [];
  }
};

const drawFault = (luck: Chance, atS: number): Step => {
  const { fault, fromS, toS } = drawWeighted(luck, faultWeights);
  const forS = hundredths(fromS + (toS - fromS) * luck.next() ** 2);
  if (fault === 'cut') return { do: 'cut', atS, deeds: luck.whole(1, 70), offS: forS, printerToo: luck.hit(0.7) };
  return { do: 'fault', atS, fault, forS };
};

/** A camera and a printer within what real ones differ in. Small frames and short pictures, so that many fit. */
const drawRig = (luck: Chance) => {
  const status = luck.pick(['polled', 'polled', 'automatic'] as const);
  const link = luck.pick(['serial', 'serial', 'serial', 'usb'] as const);
  const config = configSchema.parse({
    camera: { mark: 'A' },
    button: { settleMs: luck.pick([7, 8, 10, 15, 20]) },
    gestures: { hold: luck.pick(['none', 'feed', 'load'] as const) },
    shutter: {
      pulseMs: luck.pick([10, 18, 25, 40]),
      bladesClearMs: luck.pick([10, 20, 60]),
      lockoutMs: luck.pick([0, 100, 300, 600]),
    },
    webcam: {
      format: luck.pick(['GREY', 'GREY', 'YUYV', 'MJPEG'] as const),
      widthPx: 64,
      heightPx: 64,
      framesPerSecond: luck.pick([5, 15, 30, 30, 60]),
      warmupFrames: luck.whole(0, 8),
    },
    printer: {
      link,
      baud: luck.pick([9600, 38_400, 115_200, 115_200, 230_400]),
      flow: luck.pick(['none', 'none', 'xonxoff', 'rtscts'] as const),
    },
    queue: { longest: luck.whole(0, 5) },
    motor: { rack: luck.hit(0.7) },
  });
  const profile = profileSchema.parse({
    widthDots: 288,
    bufferBytes: luck.pick([256, 256, 1024, 4096]),
    commands: {
      image: luck.pick(['raster', 'raster', 'column', 'graphics'] as const),
      rasterRows: luck.pick([8, 24, 64]),
      heat: luck.pick(['none', 'panel'] as const),
      status,
    },
    tearMm: luck.pick([2, 6, 14]),
  });
  return { config, profile };
};

const thousandths = (value: number) => Math.round(value * 1000) / 1000;
/** Time to the next of events that come at random, `meanS` apart. */
const drawGap = (luck: Chance, meanS: number): number => -Math.log(1 - luck.next()) * meanS;

export interface FaultsWanted {
  turns: number;
  /** Mean seconds from turn to turn. */
  turnS: number;
}

/** What people do and what goes wrong, out of a seed, on whatever camera. */
export const drawFaults = (seed: number, { turns: count, turnS }: FaultsWanted = { turns: 40, turnS: 5 }): Script => {
  const luck = chance(seed).fork('party');
  const steps: Step[] = [];
  let atS = 1 + luck.next() * 2;
  for (let turn = 0; turn < count; turn++) {
    steps.push(...drawTurn(luck, thousandths(atS)));
    if (luck.whole(1, 1000) <= faultyTurns) steps.push(drawFault(luck, thousandths(atS + luck.next() * 0.8)));
    atS += drawGap(luck, turnS);
  }
  return scriptSchema.parse({
    title: `A party drawn from seed ${seed}`,
    seed,
    roomC: luck.whole(5, 32),
    // Nothing is put right sooner than a hand could.
    endS: thousandths(Math.max(atS, stepsEndS(steps)) + 1),
    steps,
  });
};

/** A party of faults on a camera and printer of its own, small and quick. The same seed is the same party. */
export const drawParty = (seed: number, wanted: FaultsWanted = { turns: 60, turnS: 1.6 }): Script => ({
  ...drawFaults(seed, wanted),
  ...drawRig(chance(seed).fork('rig')),
});

/**
 * Guests come at random through an evening: a thousand of them in five hours. The camera has the plain look and a small
 * frame, so that the evening goes by quickly; a configuration of your own takes their place.
 */
export const drawCalm = (seed: number, presses: number): Script => {
  const luck = chance(seed).fork('evening');
  const steps: Step[] = [];
  let atS = 4;
  for (let press = 0; press < presses; press++) {
    steps.push({ do: 'press', atS: thousandths(atS), holdMs: luck.whole(60, 300), bounce: true });
    atS += 8 + drawGap(luck, 10);
  }
  return scriptSchema.parse({
    title: `${presses} calm presses`,
    seed,
    config: { picture: { look: 'plain' }, webcam: { widthPx: 480, heightPx: 360 } },
    paperMm: 200_000,
    endS: thousandths(atS),
    steps,
  });
};
