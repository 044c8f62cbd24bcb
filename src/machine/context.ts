import type { Pending } from '../parts/album.ts';
import type { PrinterCondition } from '../parts/engine.ts';
import type { Pulse } from './duty.ts';

/** The picture that is being taken, or was last; number 0 before the first. */
export interface Taking {
  shot: number;
  pressedUs: number;
  settledUs: number;
  takenAtMs: number | null;
  /** The journal was read before it got its number. */
  numbered: boolean;
  /** No exposure that began earlier is fit. */
  notBeforeUs: number;
  /** Frames still to be taken for this press after this one. */
  left: number;
  /** The first stroke was given: only then can a second one be told from it. */
  struck: boolean;
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
  /** The journal was read before it got its number: marks can't meet an older picture of that number. */
  numbered: boolean;
  takenAtMs: number | null;
  /** Null where it was taken in an earlier life. */
  pressedUs: number | null;
  /** How often it couldn't be made ready for print. */
  tries: number;
}

export interface Context {
  /** First edge of the contact that is settling, and when the last press began to count; µs. */
  edgeUs: number;
  lastPressUs: number;
  /** The contact's last edge, by its stamp; µs. */
  lastEdgeUs: number;
  /** The webcam streams. */
  seeing: boolean;
  /** The journal was read, or it is known that it can't be. */
  albumKnown: boolean;
  albumTrouble: boolean;
  journalRead: boolean;
  nextShot: number;
  taking: Taking;
  /** When the coil was on, as far as it counts for its duty; oldest first. */
  pulses: readonly Pulse[];
  queue: readonly Queued[];
  /** Pictures that could not be made ready; tried again when nothing else is to be done, or when the album heals. */
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
  /** Paper that a whole picture takes: reckoned, then as the last one measured, mm. */
  pictureMm: number;
  /** How often in a row a print stopped and no reason was given. */
  unexplained: number;
  /** What the log last gave as the reason for waiting. */
  saidWhy: string;
  condition: PrinterCondition;
  supplyLow: boolean;
  /** Few pictures are left by the roll's account. */
  rollLow: boolean;
  /** The lid was open or the paper out since the last new roll was counted. */
  rollTouched: boolean;
  /** Paper to be moved, mm; negative is back. */
  jogMm: number;
  /** Since when marks can't be written, µs; null while they can. */
  unwrittenUs: number | null;
  /** Answers that the album still owes. */
  owed: number;
}

const blankContext: Omit<Context, 'pictureMm'> = {
  edgeUs: 0,
  lastPressUs: Number.NEGATIVE_INFINITY,
  lastEdgeUs: Number.POSITIVE_INFINITY,
  seeing: false,
  albumKnown: false,
  albumTrouble: false,
  journalRead: false,
  nextShot: 1,
  taking: {
    shot: 0,
    pressedUs: 0,
    settledUs: 0,
    takenAtMs: null,
    notBeforeUs: 0,
    left: 0,
    numbered: false,
    struck: false,
    safe: false,
    grabbedUs: 0,
  },
  pulses: [],
  queue: [],
  setAside: [],
  dotsOf: null,
  lastPrinted: null,
  developUs: 0,
  printUs: 0,
  waitingUs: 0,
  bodyLines: 0,
  unexplained: 0,
  saidWhy: '',
  // Nothing is known of the printer until it was found.
  condition: { lost: true, paperOut: false, lidOpen: false, headHot: false, offLine: false, nearEnd: false },
  supplyLow: false,
  rollLow: false,
  rollTouched: false,
  jogMm: 0,
  unwrittenUs: null,
  owed: 0,
};

/** A copy by spreading: from such an object the engine copies fast on Node 20, from a literal of so many fields ten times slower. */
export const initialContext = (pictureMm: number): Context => ({ ...blankContext, pictureMm });

export const justTaken = ({ shot, numbered, takenAtMs, pressedUs }: Taking): Queued => ({
  numbered,
  shot,
  stage: 'body',
  kept: 'pending',
  inMemory: true,
  again: false,
  takenAtMs,
  pressedUs,
  tries: 0,
});

/** What an earlier life left to be printed. */
export const recovered = ({ shot, mark }: Pending): Queued => ({
  numbered: true,
  shot,
  stage: mark === 'closing' ? 'tail' : 'body',
  kept: 'yes',
  inMemory: false,
  again: false,
  takenAtMs: null,
  pressedUs: null,
  tries: 0,
});

export const onceMore = (queued: Queued): Queued => ({
  ...queued,
  stage: 'body',
  again: true,
  inMemory: true,
  pressedUs: null,
  tries: 0,
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

/** `longest` pictures may wait beside the one in hand; what was set aside counts where it is only in memory. */
export const hasRoom = ({ queue, setAside }: Pick<Context, 'queue' | 'setAside'>, longest: number): boolean =>
  queue.length + setAside.filter(({ inMemory }) => inMemory).length <= longest;

/** How often a picture is tried before it is left alone until the album heals or the program starts anew. */
const mostTries = 8;

export const isTriedAgain = ({ tries }: Queued): boolean => tries < mostTries;

/** The first of the queue goes aside; one that the album has needs no place in memory meanwhile, and is never given up. */
export const asideWithFirst = ({ queue, setAside }: Pick<Context, 'queue' | 'setAside'>): readonly Queued[] => {
  const [first] = queue;
  const tried = { ...first, tries: first.tries + 1, inMemory: first.inMemory && first.kept !== 'yes' };
  return first.kept === 'yes' || isTriedAgain(tried) ? [...setAside, tried] : setAside;
};

/** A picture may be asked for while it is on its way already. */
export const isUnderWay = ({ queue, setAside }: Pick<Context, 'queue' | 'setAside'>, shot: number): boolean =>
  queue.some(queued => queued.shot === shot) || setAside.some(queued => queued.shot === shot);

/** In words for the log; `stopped` where the printer gave up without saying why. */
export const whyWaiting = (facts: Pick<Context, 'condition' | 'supplyLow'>): string =>
  waitingReasons(facts).join(' ') || 'stopped';

/** Pictures that come in beside what is in hand: oldest first, never before that. */
export const insertByAge = (queue: readonly Queued[], more: readonly Queued[]): readonly Queued[] =>
  queue.length === 0
    ? [...more].sort((a, b) => a.shot - b.shot)
    : [queue[0], ...[...queue.slice(1), ...more].sort((a, b) => a.shot - b.shot)];

export const settleKept = (queue: readonly Queued[], shot: number, kept: 'yes' | 'no'): readonly Queued[] =>
  queue.map(queued => (queued.shot === shot && !queued.again ? { ...queued, kept } : queued));

export const changeFirst = (queue: readonly Queued[], change: Partial<Queued>): readonly Queued[] =>
  queue.length === 0 ? queue : [{ ...queue[0], ...change }, ...queue.slice(1)];
