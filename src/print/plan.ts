import type { Dots } from '../parts/darkroom.ts';
import { dotsAtOnce } from './head.ts';
import { createPacer } from './pace.ts';
import { bandsOf, piecesOf } from './pieces.ts';
import { createPlanner, type Plan, type Situation } from './planner.ts';
import { stack } from './rows.ts';
import { chooseHeat } from './slow.ts';

export interface Sheet {
  /** Printed under each other. */
  pages: readonly Dots[];
  /** Dot lines fed at the end, exact to the line. */
  feedLines: number;
}

/** While it prints, a printer is asked about this often, but never for more than a hundredth of the wire. */
const askEveryUs = 500_000;
const askBytesShare = 100;
const printingAsks = [2, 3, 4] as const;
/** Header, heat, break and questions that come before the first row of a band. */
const beforeRows = 8 + 5 + 3 + 9;

/** Image data that a printer might take for `10 04 n`, and answer (from memory). */
const hasStray = (data: Uint8Array): boolean => {
  for (let i = data.indexOf(0x10); i >= 0 && i + 2 < data.length; i = data.indexOf(0x10, i + 1))
    if (data[i + 1] === 4 && data[i + 2] >= 1 && data[i + 2] <= 4) return true;
  return false;
};

/** How much longer a picture may take for fewer stops in it. */
const reserveWorth = 1.02;

/** Reserves that are tried, smallest first: a part of a row is often enough, and costs less time than a whole one. */
const reservesRows = [3 / 8, 1, 2, 4, 8, 16, 32, 64];

/** @param reserveBytes What must have arrived of the rows after a band when it is over, beside the first of them. */
const planAhead = (sheet: Sheet, situation: Situation, reserveBytes: number) => {
  const { profile, power, wire } = situation;
  const dots = stack(sheet.pages, Math.ceil(profile.widthDots / 8));
  const bands = bandsOf(dots, profile, wire);
  const pacer = createPacer(wire);
  const planner = createPlanner(situation, pacer.add);
  const atOnce = dotsAtOnce(profile, power);
  // A picture that a printer may take for questions can't be watched by asking: nobody knows which answer is whose.
  const asks = profile.commands.status === 'polled' && !hasStray(dots.data);
  const askUs = Math.max(askEveryUs, printingAsks.length * 3 * wire.byteUs * askBytesShare);
  let askedUs = 0;

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
    const pieces = piecesOf(dots, band, unbroken, profile.commands.image);
    const aheadBytes = next?.kind === 'rows' ? next.widthBytes + beforeRows + reserveBytes : 0;
    const how = chooseHeat({ profile, power, pacer, pieces, aheadBytes, atOnce, aboveK: planner.aboveK });
    planner.print(pieces, how);
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
  const rowBytes = Math.ceil(profile.widthDots / 8);
  for (const rows of reservesRows) {
    const reserveBytes = Math.round(rows * rowBytes);
    if (best.pacer.starved === 0 || reserveBytes > wire.roomBytes) break;
    const other = planAhead(sheet, situation, reserveBytes);
    if (other.pacer.starved < best.pacer.starved && other.pacer.endUs <= longestUs) best = other;
  }
  return best.plan;
};
