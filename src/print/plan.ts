import type { Dots } from '../parts/darkroom.ts';
import { dotsAtOnce } from './head.ts';
import type { StatusAsk } from './language.ts';
import { createPacer, type Wire } from './pace.ts';
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

/** While it prints, a printer is asked about this often; nobody opens and shuts a lid in less than two seconds. */
const askEveryUs = 500_000;
/** Never for more than a hundredth of the wire: a slow one carries but the question for what stops a print. */
const askBytesShare = 100;
const asksOn = ({ byteUs }: Wire): readonly StatusAsk[] =>
  3 * 3 * byteUs * askBytesShare <= askEveryUs ? [2, 3, 4] : [2];
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

/** What is sent of a sheet in whatever heat: the same for every reserve. */
const cut = ({ pages }: Sheet, { profile, wire }: Situation) => {
  const dots = stack(pages, Math.ceil(profile.widthDots / 8));
  const bands = bandsOf(dots, profile, wire);
  const pieces = bands.map((band, index) =>
    band.kind === 'feed'
      ? null
      : piecesOf(dots, band, index > 0 && bands[index - 1].kind === 'rows', profile.commands.image),
  );
  // A picture that a printer may take for questions can't be watched by asking: nobody knows which answer is whose.
  const asks = profile.commands.status === 'polled' && !hasStray(dots.data);
  return { bands, pieces, asks, heightDots: dots.heightDots };
};

/** What a plan must not be beyond; it is given up as soon as it is. */
interface Limits {
  starved: number;
  us: number;
}
const noLimits: Limits = { starved: Number.POSITIVE_INFINITY, us: Number.POSITIVE_INFINITY };

/** @param reserveBytes What must have arrived of the rows after a band when it is over, beside the first of them. */
const planAhead = (
  { bands, pieces, asks, heightDots }: ReturnType<typeof cut>,
  { feedLines }: Sheet,
  situation: Situation,
  reserveBytes: number,
  limits: Limits,
) => {
  const { profile, power, wire } = situation;
  const pacer = createPacer(wire, null);
  const planner = createPlanner(situation, pacer.add);
  const atOnce = dotsAtOnce(profile, power);
  const questions = asksOn(wire);
  let askedUs = 0;

  planner.settle();
  for (const [index, band] of bands.entries()) {
    const own = pieces[index];
    if (!own) {
      planner.feed(band.lines);
      continue;
    }
    const next = bands[index + 1];
    if (asks && pacer.endUs - askedUs >= askEveryUs) {
      planner.ask(questions);
      askedUs = pacer.endUs;
    }
    const aheadBytes = next?.kind === 'rows' ? next.widthBytes + beforeRows + reserveBytes : 0;
    const { aboveK } = planner;
    planner.print(own, chooseHeat({ profile, power, pacer, pieces: own, aheadBytes, atOnce, aboveK }));
    if (pacer.starved > limits.starved || pacer.endUs > limits.us) return null;
  }
  // What the last stripe reached beyond the picture is part of the feed.
  planner.feed(Math.max(0, heightDots + feedLines - planner.lines));
  const { starved, endUs } = pacer;
  return starved > limits.starved || endUs > limits.us ? null : { planner, starved, endUs };
};

/**
 * Dots to bytes: initialise, heat settings, bands of rows, white as feed, and the feed at the end. Heat settings keep
 * the darkness even while the head warms, keep the current within profile and supply, and slow the head down where the
 * wire is slower than it, as far as they can.
 */
export const planSheet = (sheet: Sheet, situation: Situation): Plan => {
  const { profile, wire } = situation;
  const whole = cut(sheet, situation);
  let best = planAhead(whole, sheet, situation, 0, noLimits) as NonNullable<ReturnType<typeof planAhead>>;
  if (profile.commands.heat === 'none') return best.planner.plan();
  const us = best.endUs * reserveWorth;
  // Where some rows are too light to be slowed down, the ones before them can be: their time fills the buffer.
  const rowBytes = Math.ceil(profile.widthDots / 8);
  for (const rows of reservesRows) {
    const reserveBytes = Math.round(rows * rowBytes);
    if (best.starved === 0 || reserveBytes > wire.roomBytes) break;
    best = planAhead(whole, sheet, situation, reserveBytes, { starved: best.starved - 1, us }) ?? best;
  }
  return best.planner.plan();
};
