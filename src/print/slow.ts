import type { Profile } from '../config/profile.ts';
import { heatingFor, heatingLineUs, motorLineUs, type Power } from './head.ts';
import type { HeatSetting } from './language.ts';
import type { Pacer } from './pace.ts';

/** Bytes that the printer reads in one go, and the rows that it then prints. */
export interface Piece {
  bytes: Uint8Array;
  /** Black dots, row by row. */
  black: Int32Array;
  /** Dot lines that the paper moves with it. */
  lines: number;
  unbroken: boolean;
  /** A command ends with it. */
  whole: boolean;
}

export interface BandToHeat {
  profile: Profile;
  power: Power;
  /** What was sent before; left as it is found. */
  pacer: Pacer;
  pieces: readonly Piece[];
  /** Bytes that must have arrived when the band is over, the first row of the next one at least; 0 before white. */
  aheadBytes: number;
  atOnce: number;
  aboveK: number;
}

/** How a band is heated: by the heat command, and by the break of the density command where that is known. */
export interface BandHeat extends HeatSetting {
  /** Rest after each row, µs. */
  breakUs: number;
}

/** Bytes of the heat and of the density command. */
const settingBytes = 5 + 3;
const stepDots = 8;
const stepUs = 10;
const longestIntervalUs = 2550;
const breakStepUs = 250;
const longestBreakUs = 1750;

/** Time of each row is what head and break need, or what the motor needs; µs. */
const rowUs = (black: number, heat: BandHeat, motorUs: number): number =>
  Math.max(motorUs, Math.round(heatingLineUs(black, heat)) + heat.breakUs);

export const pieceUs = (black: Int32Array, heat: BandHeat, motorUs: number): number =>
  black.reduce((sum, dots) => sum + rowUs(dots, heat, motorUs), 0);

/**
 * The fastest way to heat a band with which the wire keeps up, row by row: less at once, longer intervals and breaks
 * slow the head down where the wire is slower than it. Where nothing slows it enough, the way with which the paper
 * stands least often.
 */
export const chooseHeat = (band: BandToHeat): BandHeat => {
  const { profile, power, pacer, pieces, aheadBytes, atOnce, aboveK } = band;
  const { commands, head, quirks } = profile;
  const slowestUs = 1e6 / (profile.dotsPerMm * profile.motor.slowestMmPerS);
  const motorUs = Math.round(motorLineUs(profile));
  const darkest = Math.max(...pieces.map(({ black }) => Math.max(...black)));
  const leastInterval = Math.round(head.intervalUs / stepUs);
  const intervals = longestIntervalUs / stepUs - leastInterval;
  // With its fields exchanged the command can't say 100 % any more, and bands would differ in darkness.
  const breaks = commands.density === 'panel' && !quirks.densityFieldsSwapped ? longestBreakUs / breakStepUs : 0;

  /** Slower by `level` steps: first the interval, then the break. */
  const heatOf = (dotsAtOnce: number, level: number): BandHeat => ({
    dotsAtOnce,
    heatingUs: heatingFor(profile, power, dotsAtOnce, aboveK),
    intervalUs: (leastInterval + Math.min(level, intervals)) * stepUs,
    breakUs: Math.max(0, level - intervals) * breakStepUs,
  });
  const tried = (heat: BandHeat) => {
    const rewind = pacer.mark();
    const { starved, endUs } = pacer;
    if (commands.heat === 'panel') pacer.add({ bytes: settingBytes, takesUs: 0, unbroken: false, heats: false });
    for (const { bytes, black, unbroken } of pieces)
      pacer.add({ bytes: bytes.length, takesUs: pieceUs(black, heat, motorUs), unbroken, heats: true });
    const result = {
      heat,
      late: pacer.starved - starved,
      behindUs: aheadBytes === 0 ? 0 : Math.max(0, pacer.lateUs(aheadBytes)),
      us: pacer.endUs - endUs,
    };
    rewind();
    return result;
  };
  type Tried = ReturnType<typeof tried>;
  const keepsUp = ({ late, behindUs }: Tried) => late === 0 && behindUs === 0;
  const better = (a: Tried, b: Tried) => a.late - b.late || a.behindUs - b.behindUs || a.us - b.us;

  let best = tried(heatOf(atOnce, 0));
  if (keepsUp(best) || commands.heat === 'none') return best.heat;
  for (let dots = atOnce; dots >= stepDots; dots -= stepDots) {
    let least = 0;
    let most = intervals + breaks;
    while (most > least && rowUs(darkest, heatOf(dots, most), motorUs) > slowestUs) most--;
    let found = tried(heatOf(dots, most));
    while (keepsUp(found) && least < most) {
      const middle = (least + most) >> 1;
      const attempt = tried(heatOf(dots, middle));
      if (keepsUp(attempt)) {
        most = middle;
        found = attempt;
      } else least = middle + 1;
    }
    if (better(found, best) < 0) best = found;
  }
  return best.heat;
};
