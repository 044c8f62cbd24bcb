import { motorLineUs } from './head.ts';
import { sleepAfter } from './language.ts';
import { longestCommand } from './pieces.ts';
import { createPlanner, type Plan, type Situation } from './planner.ts';

/** White behind a picture that was cut short, lest the next one begins on its last row, dot lines. */
const cutGapLines = 16;

/**
 * Brings a printer between commands, initialised. It may still wait for image bytes: zeros complete the command; in an
 * image they are white rows, between commands they are nothing (common practice, no source). Where bytes may have been
 * lost on the way (paper ran out, the wire was gone, the program was), how many it waits for is unknown: it gets zeros
 * for the longest command that we ever send.
 * @param missing Bytes that it waits for, row by row; null: unknown.
 * @param cutShort A picture ended before its end.
 */
export const planFit = (situation: Situation, missing: readonly number[] | null, cutShort: boolean): Plan => {
  const { profile, wire } = situation;
  const planner = createPlanner(situation);
  if (missing) planner.flush(missing);
  else {
    // Rows may be narrower than the zeros: then these are too many, and its time goes by the number of rows.
    const rows = longestCommand(profile, wire);
    planner.flush(rows, rows.length * motorLineUs(profile));
  }
  planner.settle();
  if (profile.commands.sleep) planner.add(sleepAfter(0));
  if (cutShort) planner.feed(cutGapLines);
  return planner.plan();
};

/**
 * Asks for everything, once the command in hand is complete. A printer that couldn't print, and that never says stop, may
 * have lost the rest of any command: the next bytes that it stores go into that one, and a question taken for the height
 * of an image would swallow the pictures of an hour. So zeros for the longest command go before the question, each time
 * anew, since nobody knows whether they had room. What is left is a printer that recovers just between zeros and question.
 * @param missing Bytes that it waits for, row by row; null: unknown.
 */
export const planAsk = (situation: Situation, missing: readonly number[] | null, offLine: boolean): Plan => {
  const planner = createPlanner(situation);
  planner.flush(missing ?? longestCommand(situation.profile, situation.wire));
  planner.askEverything(offLine);
  return planner.plan();
};
