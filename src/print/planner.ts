import type { Profile } from '../config/profile.ts';
import { headAmps, lineJoules, motorLineUs, type Power, warm } from './head.ts';
import * as language from './language.ts';
import type { PacedStep, Wire } from './pace.ts';
import { type BandHeat, type Pieces, rowsUs } from './slow.ts';

/** Bytes that the printer acts on at once, and what it then does. */
export interface Step extends PacedStep {
  /** Dot lines of paper that move; negative is back. */
  lines: number;
  joules: number;
  /** Head current while it lasts. */
  amps: number;
  /** A command ends with it: only here may another one follow. */
  whole: boolean;
  /** What is asked by it; empty: the automatic status. */
  asks: readonly language.StatusAsk[] | null;
}

export interface Plan {
  bytes: Uint8Array;
  steps: Step[];
  /** Dot lines of paper that move in all, back and forth counted against each other. */
  lines: number;
  /** Head temperature above ambient at its warmest and at the end, K, when nothing stands still. */
  peakK: number;
  endK: number;
}

export interface Situation {
  profile: Profile;
  power: Power;
  wire: Wire;
  /** Head temperature above ambient when the first byte is sent, K. */
  aboveK: number;
}

const unitsAtMost = 255;
/** One manual lets the paper go back by 1/6 inch at most. */
const reverseAtMost = ({ dotsPerMm }: Profile) => Math.floor((dotsPerMm * 25.4) / 6);
/** On line or not, errors, paper. */
const automaticMask = 0x0e;
const everything = [1, 2, 3, 4] as const;

export const concat = (parts: readonly Uint8Array[]): Uint8Array => {
  const bytes = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    bytes.set(part, at);
    at += part.length;
  }
  return bytes;
};

/** What a step is unless said otherwise. */
type Deed = Partial<Omit<Step, 'bytes'>>;

/** Collects steps with their bytes, and follows the head's temperature. */
export const createPlanner = ({ profile, power, aboveK }: Situation, added: (step: Step) => void = () => {}) => {
  const parts: Uint8Array[] = [];
  const steps: Step[] = [];
  const lineUs = Math.round(motorLineUs(profile));
  let lines = 0;
  let nowK = aboveK;
  let peakK = aboveK;
  let told: BandHeat | null = null;

  // One shape for all steps, field by field: there is one for each row.
  const addStep = (bytes: number, deed: Deed) => {
    const { takesUs = 0, unbroken = false, lines: moved = 0, joules = 0, amps = 0 } = deed;
    const { whole = true, heats = false, asks = null } = deed;
    const step: Step = { bytes, takesUs, unbroken, lines: moved, joules, amps, whole, heats, asks };
    steps.push(step);
    added(step);
    lines += moved;
    if (takesUs === 0) return;
    nowK = warm(nowK, (joules * 1e6) / takesUs, takesUs, profile);
    if (nowK > peakK) peakK = nowK;
  };
  const add = (bytes: Uint8Array, deed: Deed = {}) => {
    parts.push(bytes);
    addStep(bytes.length, deed);
  };
  /** Says what the printer wasn't told yet. */
  const tell = (how: BandHeat) => {
    if (profile.commands.heat === 'none') return;
    const { dotsAtOnce, heatingUs, intervalUs, breakUs } = how;
    if (told?.dotsAtOnce !== dotsAtOnce || told.heatingUs !== heatingUs || told.intervalUs !== intervalUs)
      add(language.heat(how));
    if (breakUs !== (told?.breakUs ?? 0)) add(language.density(100, breakUs));
    told = how;
  };
  return {
    add,
    /** @param density Part of the heating time that the density command makes of it. */
    print({ bytes, sizes, black, rowsEach, linesEach, unbroken }: Pieces, how: BandHeat, density = 1) {
      tell(how);
      parts.push(bytes);
      const felt = { ...how, heatingUs: how.heatingUs * density };
      for (let k = 0; k < sizes.length; k++) {
        const first = k * rowsEach;
        let joules = 0;
        let darkest = 0;
        for (let row = first; row < first + rowsEach; row++) {
          joules += lineJoules(black[row], felt, profile, power);
          if (black[row] > darkest) darkest = black[row];
        }
        addStep(sizes[k], {
          takesUs: rowsUs(black, first, rowsEach, felt, lineUs) + (linesEach - rowsEach) * lineUs,
          lines: linesEach,
          joules,
          amps: headAmps(Math.min(darkest, how.dotsAtOnce), profile.head.elementOhm, power),
          unbroken: unbroken || k > 0,
          whole: k === sizes.length - 1,
          heats: true,
        });
      }
    },
    /** Paper without heat; negative is back, where the printer can. */
    feed(by: number) {
      const back = by < 0;
      if (back && (!profile.commands.reverse || profile.quirks.ignoresReverse)) return;
      const atMost = back ? reverseAtMost(profile) : unitsAtMost;
      for (let left = Math.abs(by); left > 0; left -= atMost) {
        const units = Math.min(left, atMost);
        add(back ? language.reverseUnits(units) : language.feedUnits(units), {
          takesUs: units * lineUs,
          lines: back ? -units : units,
        });
      }
    },
    ask(asks: readonly language.StatusAsk[]) {
      add(concat(asks.map(language.statusNow)), { asks });
    },
    /** A printer that is off line may leave everything in its buffer but `10 04 n`. */
    askEverything(offLine: boolean) {
      if (profile.commands.status === 'automatic' && !offLine)
        add(language.automaticStatus(automaticMask), { asks: [] });
      else add(concat(everything.map(language.statusNow)), { asks: everything });
    },
    /**
     * Zeros for image bytes that the printer may still wait for, row by row: white rows, or nothing at all between
     * commands. `restUs`: what it may take longer than that.
     */
    flush(rowBytes: readonly number[], restUs = 0) {
      for (const [row, bytes] of rowBytes.entries()) {
        const last = row === rowBytes.length - 1;
        add(new Uint8Array(bytes), { takesUs: lineUs + (last ? restUs : 0), whole: last });
      }
    },
    /** What puts a printer that stands between commands into a known state. */
    settle() {
      add(language.initialise());
      const perInch = Math.round(profile.dotsPerMm * 25.4);
      if (profile.commands.motionUnits) add(language.motionUnits(perInch, perInch));
      if (profile.commands.status === 'automatic') add(language.automaticStatus(automaticMask));
    },
    get aboveK() {
      return nowK;
    },
    get lines() {
      return lines;
    },
    /** Time that the mechanism needs for all of it, µs. */
    get takesUs() {
      return steps.reduce((sum, step) => sum + step.takesUs, 0);
    },
    plan: (): Plan => ({ bytes: concat(parts), steps, lines, peakK, endK: nowK }),
  };
};
