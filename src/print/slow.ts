import type { Profile } from '../config/profile.ts';
import { heatingFor, heatingLineUs, motorLineUs, type Power } from './head.ts';
import type { HeatSetting } from './language.ts';
import type { Pacer } from './pace.ts';

/** Bytes that the printer reads in one go, and the rows that it then prints. */
export interface Piece {
  bytes: Uint8Array;
  /** Black dots, row by row. */
  black: Int32Array;
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

/** The heat command itself. */
const heatBytes = 5;
const stepDots = 8;
const stepUs = 10;
const longestIntervalUs = 2550;

/** Time of each row is what the head needs, or what the motor needs; µs. */
const rowUs = (black: number, setting: HeatSetting, motorUs: number): number =>
  Math.max(motorUs, Math.round(heatingLineUs(black, setting)));

export const pieceUs = (black: Int32Array, setting: HeatSetting, motorUs: number): number =>
  black.reduce((sum, dots) => sum + rowUs(dots, setting, motorUs), 0);

/**
 * The fastest heat setting with which the wire keeps up, row by row: less at once and longer intervals slow the head
 * down where the wire is slower than it. Where no setting does, the one with which the paper stands least often.
 */
export const chooseHeat = (band: BandToHeat): HeatSetting => {
  const { profile, power, pacer, pieces, aheadBytes, atOnce, aboveK } = band;
  const slowestUs = 1e6 / (profile.dotsPerMm * profile.motor.slowestMmPerS);
  const motorUs = Math.round(motorLineUs(profile));
  const darkest = Math.max(...pieces.map(({ black }) => Math.max(...black)));

  const settingOf = (dotsAtOnce: number, intervalUs: number): HeatSetting => ({
    dotsAtOnce,
    heatingUs: heatingFor(profile, power, dotsAtOnce, aboveK),
    intervalUs,
  });
  const tried = (setting: HeatSetting) => {
    const rewind = pacer.mark();
    const { starved, endUs } = pacer;
    if (profile.commands.heat === 'panel') pacer.add({ bytes: heatBytes, takesUs: 0, unbroken: false });
    for (const { bytes, black, unbroken } of pieces)
      pacer.add({ bytes: bytes.length, takesUs: pieceUs(black, setting, motorUs), unbroken });
    const result = {
      setting,
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

  const fastest = tried(settingOf(atOnce, Math.round(profile.head.intervalUs / stepUs) * stepUs));
  if (keepsUp(fastest) || profile.commands.heat === 'none') return fastest.setting;

  let best = fastest;
  for (let dots = atOnce; dots >= stepDots; dots -= stepDots) {
    let least = fastest.setting.intervalUs / stepUs;
    let most = longestIntervalUs / stepUs;
    while (most > least && rowUs(darkest, settingOf(dots, most * stepUs), motorUs) > slowestUs) most--;
    let found = tried(settingOf(dots, most * stepUs));
    if (keepsUp(found))
      while (least < most) {
        const middle = (least + most) >> 1;
        const attempt = tried(settingOf(dots, middle * stepUs));
        if (keepsUp(attempt)) {
          most = middle;
          found = attempt;
        } else least = middle + 1;
      }
    if (better(found, best) < 0) best = found;
  }
  return best.setting;
};
