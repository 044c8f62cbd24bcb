import type { Profile } from '../config/profile.ts';
import { heatingFor, heatingLineUs, motorLineUs, type Power } from './head.ts';
import type { HeatSetting } from './language.ts';
import type { Outcome, Pacer, Thought } from './pace.ts';

/**
 * A band as the printer reads it: pieces, each read in one go and then printed. All in a few arrays, since there is a piece
 * for each row of raster.
 */
export interface Pieces {
  /** All bytes, one piece after the other, and how many each has. */
  bytes: Uint8Array;
  sizes: Int32Array;
  /** Black dots, row by row; each piece has as many rows. */
  black: Int32Array;
  rowsEach: number;
  /** Dot lines that the paper moves with each. */
  linesEach: number;
  /** The paper must not stand still before the first; never does it between them. */
  unbroken: boolean;
}

export interface BandToHeat {
  profile: Profile;
  power: Power;
  /** What was sent before. */
  pacer: Pacer;
  pieces: Pieces;
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
/** More than sums of times may be off by. */
const roundingUs = 0.01;

/** Time of each row is what head and break need, or what the motor needs; µs. */
const rowUs = (black: number, heat: BandHeat, motorUs: number): number =>
  Math.max(motorUs, Math.round(heatingLineUs(black, heat)) + heat.breakUs);

/** Time of `rows` rows from `first` on, µs. */
export const rowsUs = (black: Int32Array, first: number, rows: number, heat: BandHeat, motorUs: number): number => {
  let us = 0;
  for (let row = first; row < first + rows; row++) us += rowUs(black[row], heat, motorUs);
  return us;
};

/**
 * The fastest way to heat a band with which the wire keeps up, row by row: less at once, longer intervals and breaks
 * slow the head down where the wire is slower than it. Where nothing slows it enough, the way with which the paper
 * stands least often.
 *
 * It is tried out on the pacer. A trial ends where it has stood more often than the best, and dots at once are given up
 * where the rows alone would take as long as the best does.
 */
export const chooseHeat = (band: BandToHeat): BandHeat => {
  const { profile, power, pacer, pieces, aheadBytes, atOnce, aboveK } = band;
  const { commands, head, quirks } = profile;
  const slowestUs = 1e6 / (profile.dotsPerMm * profile.motor.slowestMmPerS);
  const motorUs = Math.round(motorLineUs(profile));
  const leastInterval = Math.round(head.intervalUs / stepUs);
  const intervals = longestIntervalUs / stepUs - leastInterval;
  // With its fields exchanged the command can't say 100 % any more, and bands would differ in darkness.
  const breaks = commands.density === 'panel' && !quirks.densityFieldsSwapped ? longestBreakUs / breakStepUs : 0;

  /** Slower by `level` steps: first the interval, then the break. */
  const heatOf = (dotsAtOnce: number, heatingUs: number, level: number): BandHeat => ({
    dotsAtOnce,
    heatingUs,
    intervalUs: (leastInterval + Math.min(level, intervals)) * stepUs,
    breakUs: Math.max(0, level - intervals) * breakStepUs,
  });
  const fastest = heatOf(atOnce, heatingFor(profile, power, atOnce, aboveK), 0);
  if (commands.heat === 'none') return fastest;
  const { sizes, black, rowsEach, unbroken } = pieces;
  const takesUs = new Float64Array(sizes.length);
  const thought: Thought = { toldBytes: settingBytes, sizes, takesUs, unbroken };
  /** Sets the times of all pieces, and says how long they take. */
  const setTimes = (heat: BandHeat): number => {
    let us = 0;
    for (let k = 0; k < sizes.length; k++) us += takesUs[k] = rowsUs(black, k * rowsEach, rowsEach, heat, motorUs);
    return us;
  };
  const behindUs = ({ lateUs }: Outcome) => (aheadBytes === 0 ? 0 : Math.max(0, lateUs));
  const keepsUp = (one: Outcome) => one.starved === 0 && behindUs(one) === 0;
  const better = (a: Outcome, b: Outcome) => a.starved - b.starved || behindUs(a) - behindUs(b) || a.us - b.us;

  setTimes(fastest);
  let best = pacer.foresee(thought, aheadBytes, Number.POSITIVE_INFINITY) as Outcome;
  let chosen = fastest;
  if (keepsUp(best)) return chosen;
  const darkest = black.reduce((most, dots) => Math.max(most, dots), 0);
  for (let dots = atOnce; dots >= stepDots; dots -= stepDots) {
    const heatingUs = heatingFor(profile, power, dots, aboveK);
    let least = 0;
    let most = intervals + breaks;
    /** Whether a way at least so slow may win: no wire shortens what the rows take by themselves. */
    const mayWin = (level: number) => !keepsUp(best) || setTimes(heatOf(dots, heatingUs, level)) < best.us + roundingUs;
    if (!mayWin(least)) continue;
    while (most > least && rowUs(darkest, heatOf(dots, heatingUs, most), motorUs) > slowestUs) most--;
    let heat = heatOf(dots, heatingUs, most);
    setTimes(heat);
    let found = pacer.foresee(thought, aheadBytes, best.starved);
    if (!found) continue;
    while (keepsUp(found) && least < most && mayWin(least)) {
      const middle = (least + most) >> 1;
      const slower = heatOf(dots, heatingUs, middle);
      setTimes(slower);
      const attempt = pacer.foresee(thought, aheadBytes, 0);
      if (attempt && keepsUp(attempt)) {
        most = middle;
        found = attempt;
        heat = slower;
      } else least = middle + 1;
    }
    if (better(found, best) < 0) {
      best = found;
      chosen = heat;
    }
  }
  return chosen;
};
