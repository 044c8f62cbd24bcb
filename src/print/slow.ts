import { heatingFor, heatingLineUs, motorLineUs } from './head.ts';
import type { HeatSetting } from './language.ts';
import type { Situation } from './plan.ts';

/** How far the mechanism is behind the wire: work that has arrived and isn't done. */
export interface Lead {
  us: number;
  /** Times of the last rows that were laid down, as far as the buffer reaches. */
  recent: number[];
}

export interface BandToHeat {
  black: Int32Array;
  widthBytes: number;
  /** Bytes of a row of the band that follows without white between; 0 where none does. */
  nextBytes: number;
  lead: Lead;
  /** The band follows another without white between. */
  unbroken: boolean;
  atOnce: number;
  aboveK: number;
  situation: Situation;
}

export interface Heated {
  setting: HeatSetting;
  lead: Lead;
  us: number;
}

/** Header, heat command, and now and then a status request. */
const betweenBands = 8 + 5 + 4;
const stepDots = 8;
const stepUs = 10;
const longestIntervalUs = 2550;

/**
 * The fastest heat setting with which the wire keeps up, row by row: less at once and longer intervals slow the head
 * down where the wire is slower than it. Where no setting does, the one with which the paper stands least often.
 */
export const chooseHeat = (band: BandToHeat): Heated => {
  const { black, widthBytes, nextBytes, lead, unbroken, atOnce, aboveK, situation } = band;
  const { profile, power, wire } = situation;
  const motorUs = Math.round(motorLineUs(profile));
  const slowestUs = 1e6 / (profile.dotsPerMm * profile.motor.slowestMmPerS);
  const rowsAhead = Math.max(1, Math.floor(wire.roomBytes / widthBytes));
  const rowUs = widthBytes * wire.byteUs;
  const nextUs = nextBytes === 0 ? 0 : (nextBytes + betweenBands) * wire.byteUs;

  const settingOf = (dots: number, intervalUs: number): HeatSetting => ({
    dotsAtOnce: dots,
    heatingUs: heatingFor(profile, power, dots, aboveK),
    intervalUs,
  });
  const timesOf = (setting: HeatSetting) =>
    Array.from(black, dots => Math.max(motorUs, Math.round(heatingLineUs(dots, setting))));

  /** Lays the rows down one by one as the wire brings them. */
  const tried = (setting: HeatSetting) => {
    let { us: ahead } = lead;
    const recent = [...lead.recent];
    let reach = recent.reduce((sum, us) => sum + us, 0);
    let late = 0;
    let us = 0;
    let longest = 0;
    for (const [y, takesUs] of timesOf(setting).entries()) {
      const arrivesUs = rowUs + (y === 0 ? betweenBands * wire.byteUs : 0);
      if (arrivesUs > ahead && (y > 0 || unbroken)) late++;
      recent.push(takesUs);
      reach += takesUs;
      if (recent.length > rowsAhead) reach -= recent.shift()!;
      ahead = Math.min(Math.max(ahead, arrivesUs) - arrivesUs + takesUs, reach);
      us += takesUs;
      if (takesUs > longest) longest = takesUs;
    }
    if (nextUs > ahead) late++;
    return { setting, late, us, longest, lead: { us: ahead, recent } };
  };

  const fastest = tried(settingOf(atOnce, Math.round(profile.head.intervalUs / stepUs) * stepUs));
  if (fastest.late === 0 || profile.commands.heat === 'none') return fastest;

  let best = fastest;
  const better = (a: typeof best, b: typeof best) => a.late < b.late || (a.late === b.late && a.us < b.us);
  for (let dots = atOnce; dots >= stepDots; dots -= stepDots) {
    let from = fastest.setting.intervalUs / stepUs;
    let to = longestIntervalUs / stepUs;
    const slowest = tried(settingOf(dots, longestIntervalUs));
    const fits = slowest.late === 0;
    // The least interval with which no row is late; or the longest that the motor still runs evenly with.
    while (from < to) {
      const middle = (from + to + (fits ? 0 : 1)) >> 1;
      const attempt = tried(settingOf(dots, middle * stepUs));
      if (fits ? attempt.late === 0 : attempt.longest > slowestUs) to = fits ? middle : middle - 1;
      else from = fits ? middle + 1 : middle;
    }
    const found = tried(settingOf(dots, from * stepUs));
    if (found.longest <= slowestUs && better(found, best)) best = found;
  }
  return best;
};
