import type { PrinterCondition } from '../parts/engine.ts';
import type { Crossing } from './frame-choice.ts';

/** The picture that is being taken. */
export interface Taking {
  shot: number;
  pressedUs: number;
  settledUs: number;
  takenAtMs: number | null;
  /** No exposure that began earlier is fit. */
  notBeforeUs: number;
  /** Frames still to be taken for this press after this one. */
  left: number;
  /** Whether everything taken by this press so far is safe in the album. */
  safe: boolean;
  grabbedUs: number;
}

/** A picture on its way to paper; the first of the queue is in hand. */
export interface Queued {
  shot: number;
  /** What is still to be printed: all of it, or only what closes it. */
  stage: 'body' | 'tail';
  /** Whether the album has it: not known yet, safe, or only in memory. */
  kept: 'pending' | 'yes' | 'no';
  inMemory: boolean;
  /** Printed once more by request: leaves no marks in the journal. */
  again: boolean;
  takenAtMs: number | null;
  /** Null where it was taken in an earlier life. */
  pressedUs: number | null;
}

export interface Context {
  /** First edge of the contact that is settling, and when the last press began to count; µs. */
  edgeUs: number;
  lastPressUs: number;
  /** The webcam streams. */
  seeing: boolean;
  /** The journal was read, or it is known that it can't be. */
  albumKnown: boolean;
  albumTrouble: boolean;
  nextShot: number;
  taking: Taking | null;
  /** The last times in which blades crossed the lens, oldest first. */
  crossings: readonly Crossing[];
  queue: readonly Queued[];
  /** Pictures that could not be recalled; tried again when the album heals. */
  setAside: readonly Queued[];
  /** Whose dots lie ready. */
  dotsOf: number | null;
  lastPrinted: Queued | null;
  /** When the step of the output began whose length the log gives, when its waiting began; µs. */
  developUs: number;
  printUs: number;
  waitingUs: number;
  /** Paper that the body in hand took, dot lines; 0 where only a tail is printed. */
  bodyLines: number;
  /** What the log last gave as the reason for waiting. */
  saidWhy: string;
  condition: PrinterCondition;
  supplyLow: boolean;
  /** Few pictures are left by the roll's account. */
  rollLow: boolean;
  /** Paper to be moved, mm; negative is back. */
  jogMm: number;
  /** Answers that the album still owes. */
  owed: number;
}

export const initialContext = (): Context => ({
  edgeUs: 0,
  lastPressUs: Number.NEGATIVE_INFINITY,
  seeing: false,
  albumKnown: false,
  albumTrouble: false,
  nextShot: 1,
  taking: null,
  crossings: [],
  queue: [],
  setAside: [],
  dotsOf: null,
  lastPrinted: null,
  developUs: 0,
  printUs: 0,
  waitingUs: 0,
  bodyLines: 0,
  saidWhy: '',
  // Nothing is known of the printer until it was found.
  condition: { lost: true, paperOut: false, lidOpen: false, headHot: false, offLine: false, nearEnd: false },
  supplyLow: false,
  rollLow: false,
  jogMm: 0,
  owed: 0,
});

/** Why the output can't go on, gravest and most useful to the person first. */
export type WaitingReason = 'lost' | 'lid-open' | 'paper-out' | 'head-hot' | 'supply-low' | 'off-line';

export const waitingReasons = ({ condition, supplyLow }: Pick<Context, 'condition' | 'supplyLow'>): WaitingReason[] => {
  const all: [boolean, WaitingReason][] = [
    [condition.lost, 'lost'],
    [condition.lidOpen, 'lid-open'],
    [condition.paperOut, 'paper-out'],
    [condition.headHot, 'head-hot'],
    [supplyLow, 'supply-low'],
    [condition.offLine, 'off-line'],
  ];
  return all.filter(([holds]) => holds).map(([, reason]) => reason);
};

/** A picture being printed isn't stopped by a low supply; the next one isn't begun. */
export const mayPrint = ({ condition, supplyLow }: Pick<Context, 'condition' | 'supplyLow'>): boolean =>
  !(condition.lost || condition.lidOpen || condition.paperOut || condition.headHot || condition.offLine || supplyLow);

/** Paper lies in the printer, under a closed lid. */
export const paperLies = ({ lost, lidOpen, paperOut }: PrinterCondition): boolean => !(lost || lidOpen || paperOut);

/** `longest` pictures may wait beside the one in hand. */
export const hasRoom = (queue: readonly Queued[], longest: number): boolean => queue.length <= longest;

/** In words for the log; `stopped` where the printer gave up without saying why. */
export const whyWaiting = (facts: Pick<Context, 'condition' | 'supplyLow'>): string =>
  waitingReasons(facts).join(' ') || 'stopped';

export const settleKept = (queue: readonly Queued[], shot: number, kept: 'yes' | 'no'): readonly Queued[] =>
  queue.map(queued => (queued.shot === shot && !queued.again ? { ...queued, kept } : queued));

export const changeFirst = (queue: readonly Queued[], change: Partial<Queued>): readonly Queued[] =>
  queue.length === 0 ? queue : [{ ...queue[0], ...change }, ...queue.slice(1)];
