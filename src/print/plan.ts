import type { Profile } from '../config/profile.ts';
import type { Dots } from '../parts/darkroom.ts';
import { dotsAtOnce, headAmps, lineJoules, motorLineUs, type Power, warm } from './head.ts';
import * as language from './language.ts';
import { createPacer, type PacedStep, type Wire } from './pace.ts';
import { type Band, layOut, layOutStripes, stack } from './rows.ts';
import { type BandHeat, chooseHeat, type Piece, pieceUs } from './slow.ts';

/** Bytes that the printer acts on at once, and what it then does. */
export interface Step extends PacedStep {
  /** Dot lines of paper that move; negative is back. */
  lines: number;
  joules: number;
  /** Head current while it lasts. */
  amps: number;
  /** A command ends with it: only here may another one follow. */
  whole: boolean;
  /** Rows of dots, not only paper. */
  heats: boolean;
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

export interface Sheet {
  /** Printed under each other. */
  pages: readonly Dots[];
  /** Dot lines fed at the end, exact to the line. */
  feedLines: number;
}

/** Rows in one command: chunks of 24 to 64 rows are the safest (common practice, no source). */
const safeRows = 64;
/** White that is fed: below this a command of its own disturbs more than it saves. */
const feedFrom = 8;
const unitsAtMost = 255;
/** One manual lets the paper go back by 1/6 inch at most. */
const reverseAtMost = ({ dotsPerMm }: Profile) => Math.floor((dotsPerMm * 25.4) / 6);
/** On line or not, errors, paper. */
const automaticMask = 0x0e;
/** While it prints, a printer is asked about this often, but never for more than a hundredth of the wire. */
const askEveryUs = 500_000;
const askBytesShare = 100;
const printingAsks = [2, 3, 4] as const;
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

const quiet = { takesUs: 0, unbroken: false, lines: 0, joules: 0, amps: 0, whole: true, heats: false, asks: null };

/** Collects steps with their bytes, and follows the head's temperature. */
export const createPlanner = (profile: Profile, aboveK: number, added: (step: Step) => void = () => {}) => {
  const parts: Uint8Array[] = [];
  const steps: Step[] = [];
  const lineUs = Math.round(motorLineUs(profile));
  let lines = 0;
  let nowK = aboveK;
  let peakK = aboveK;

  const add = (bytes: Uint8Array, step: Partial<Step> = {}) => {
    parts.push(bytes);
    const whole: Step = { ...quiet, bytes: bytes.length, ...step };
    steps.push(whole);
    added(whole);
    lines += whole.lines;
    if (whole.takesUs === 0) return;
    nowK = warm(nowK, (whole.joules * 1e6) / whole.takesUs, whole.takesUs, profile);
    if (nowK > peakK) peakK = nowK;
  };
  return {
    add,
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
    plan: (): Plan => ({ bytes: concat(parts), steps, lines, peakK, endK: nowK }),
  };
};
/** Bytes of a block of stored graphics beside its dots. */
export const blockBytes = language.storeGraphicsOverhead + language.printGraphics().length;

/** Bytes of the rows of the longest image command that we send. */
export const longestCommand = (profile: Profile, wire: Wire): number[] =>
  Array<number>(rowsInCommand(profile, wire)).fill(Math.ceil(profile.widthDots / 8));

const columnRows = 24;

/** Rows of one image command: as many as is safe, and as keeps the print going. */
export const rowsInCommand = (profile: Profile, wire: Wire): number => {
  const { image, rasterRows } = profile.commands;
  if (image === 'column') return columnRows;
  const rows = Math.min(rasterRows, safeRows);
  if (image === 'raster') return rows;
  // Stored graphics are read whole before they are printed. Where the wire is fast, the next ones must fit the buffer
  // while these print; where it is slow, the paper stands after each command, so that few and long ones are better.
  const rowBytes = Math.ceil(profile.widthDots / 8);
  if (rowBytes * wire.byteUs > motorLineUs(profile)) return Math.min(rasterRows, Math.floor(65_525 / rowBytes));
  const fit = Math.floor((wire.roomBytes - blockBytes) / rowBytes);
  return Math.max(1, Math.min(rows, fit));
};

/** Image data that a printer might take for `10 04 n`, and answer (from memory). */
const hasStray = (data: Uint8Array): boolean => {
  for (let i = data.indexOf(0x10); i >= 0 && i + 2 < data.length; i = data.indexOf(0x10, i + 1))
    if (data[i + 1] === 4 && data[i + 2] >= 1 && data[i + 2] <= 4) return true;
  return false;
};

type Rows = Extract<Band, { kind: 'rows' }>;

const cropped = (dots: Dots, { first, rows, widthBytes }: Rows): Uint8Array => {
  const { strideBytes, data } = dots;
  if (widthBytes === strideBytes) return data.subarray(first * strideBytes, (first + rows) * strideBytes);
  const cut = new Uint8Array(rows * widthBytes);
  for (let y = 0; y < rows; y++)
    cut.set(data.subarray((first + y) * strideBytes, (first + y) * strideBytes + widthBytes), y * widthBytes);
  return cut;
};

/** 24 rows as columns of three bytes, topmost dot first; rows that the band lacks are white. */
const asColumns = (data: Uint8Array, widthBytes: number, rows: number): Uint8Array => {
  const columns = new Uint8Array(widthBytes * 8 * 3);
  for (let y = 0; y < rows; y++)
    for (let x = 0; x < widthBytes * 8; x++)
      if (data[y * widthBytes + (x >> 3)] & (0x80 >> (x & 7))) columns[x * 3 + (y >> 3)] |= 0x80 >> (y & 7);
  return columns;
};

/** Header, heat, break and questions that come before the first row of a band. */
const beforeRows = 8 + 5 + 3 + 9;

/** The commands that print a band: row by row as they are read, or read whole and then printed. */
const piecesOf = (dots: Dots, band: Rows, unbroken: boolean, image: Profile['commands']['image']): Piece[] => {
  const data = cropped(dots, band);
  const { widthBytes, rows, lines, black } = band;
  if (image === 'raster')
    return Array.from(black, (_, y) => {
      const row = data.subarray(y * widthBytes, (y + 1) * widthBytes);
      const bytes = y === 0 ? concat([language.rasterHeader(widthBytes, rows), row]) : row;
      return { bytes, black: black.subarray(y, y + 1), lines: 1, unbroken: unbroken || y > 0, whole: y === rows - 1 };
    });
  const bytes =
    image === 'graphics'
      ? concat([language.storeGraphics(widthBytes * 8, rows, data), language.printGraphics()])
      : concat([language.columns24(widthBytes * 8, asColumns(data, widthBytes, rows)), language.feedUnits(lines)]);
  return [{ bytes, black, lines, unbroken, whole: true }];
};

/** How much longer a picture may take for fewer stops in it. */
const reserveWorth = 1.02;

/** @param reserveBytes What must have arrived of the rows after a band when it is over, beside the first of them. */
const planAhead = (sheet: Sheet, situation: Situation, reserveBytes: number) => {
  const { profile, power, wire } = situation;
  const { image, heat } = profile.commands;
  const dots = stack(sheet.pages, Math.ceil(profile.widthDots / 8));
  const bands =
    image === 'column' ? layOutStripes(dots, columnRows) : layOut(dots, rowsInCommand(profile, wire), feedFrom);
  const pacer = createPacer(wire);
  const planner = createPlanner(profile, situation.aboveK, pacer.add);
  const motorUs = Math.round(motorLineUs(profile));
  const atOnce = dotsAtOnce(profile, power);
  // A picture that a printer may take for questions can't be watched by asking: nobody knows which answer is whose.
  const asks = profile.commands.status === 'polled' && !hasStray(dots.data);
  const askUs = Math.max(askEveryUs, printingAsks.length * 3 * wire.byteUs * askBytesShare);
  let askedUs = 0;
  let toldHeat = '';
  let toldBreakUs = 0;
  /** Says what the printer wasn't told yet. */
  const tell = (how: BandHeat) => {
    if (heat === 'none') return;
    const command = language.heat(how);
    if (toldHeat !== command.join()) planner.add(command);
    toldHeat = command.join();
    if (how.breakUs !== toldBreakUs) planner.add(language.density(100, how.breakUs));
    toldBreakUs = how.breakUs;
  };

  planner.settle();
  for (const [index, band] of bands.entries()) {
    if (band.kind === 'feed') {
      planner.feed(band.lines);
      continue;
    }
    const unbroken = index > 0 && bands[index - 1].kind === 'rows';
    const next = bands[index + 1];
    if (asks && pacer.endUs - askedUs >= askUs) {
      planner.ask(printingAsks);
      askedUs = pacer.endUs;
    }
    const pieces = piecesOf(dots, band, unbroken, image);
    const how = chooseHeat({
      profile,
      power,
      pacer,
      pieces,
      aheadBytes: next?.kind === 'rows' ? next.widthBytes + beforeRows + reserveBytes : 0,
      atOnce,
      aboveK: planner.aboveK,
    });
    tell(how);
    for (const { bytes, black, lines, unbroken, whole } of pieces)
      planner.add(bytes, {
        takesUs: pieceUs(black, how, motorUs) + (lines - black.length) * motorUs,
        lines,
        joules: black.reduce((sum, dots) => sum + lineJoules(dots, how, profile, power), 0),
        amps: headAmps(Math.min(Math.max(...black), how.dotsAtOnce), profile.head.elementOhm, power),
        unbroken,
        whole,
        heats: true,
      });
  }
  // What the last stripe reached beyond the picture is part of the feed.
  planner.feed(Math.max(0, dots.heightDots + sheet.feedLines - planner.lines));
  return { plan: planner.plan(), pacer };
};

/**
 * Dots to bytes: initialise, heat settings, bands of rows, white as feed, and the feed at the end. Heat settings keep
 * the darkness even while the head warms, keep the current within profile and supply, and slow the head down where the
 * wire is slower than it, as far as they can.
 */
export const planSheet = (sheet: Sheet, situation: Situation): Plan => {
  const { profile, wire } = situation;
  const plain = planAhead(sheet, situation, 0);
  if (profile.commands.heat === 'none') return plain.plan;
  let best = plain;
  const longestUs = plain.pacer.endUs * reserveWorth;
  // Where some rows are too light to be slowed down, the ones before them can be: their time fills the buffer.
  for (let rows = 1; best.pacer.starved > 0 && rows * profile.widthDots <= wire.roomBytes * 8; rows *= 2) {
    const other = planAhead(sheet, situation, (rows * profile.widthDots) / 8);
    if (other.pacer.starved < best.pacer.starved && other.pacer.endUs <= longestUs) best = other;
  }
  return best.plan;
};
