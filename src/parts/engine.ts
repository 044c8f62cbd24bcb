import type { Undo } from './clock.ts';
import type { Dots } from './darkroom.ts';

/** Why the printer can't print now; several may hold at once. */
export interface PrinterCondition {
  /** The wire is gone. */
  lost: boolean;
  paperOut: boolean;
  lidOpen: boolean;
  /** Over its temperature by its own word. */
  headHot: boolean;
  /** Off line for another reason, or a cutter/unrecoverable error. */
  offLine: boolean;
  /** Little paper left by its sensor: a warning that doesn't stop printing. */
  nearEnd: boolean;
}

/**
 * A first condition is said as soon as it is known (a printer whose profile says that it never answers included), then
 * each change; the condition that cuts a job short is said before its `stopped`. A printer that should answer and is
 * silent counts as lost.
 */
export type EngineSaid =
  | { kind: 'condition'; condition: PrinterCondition }
  /** The printer's own feed button is held, heard in its status. */
  | { kind: 'fed'; feeding: true }
  /** It is let go. `paperLines`: dot lines of paper that went meanwhile, by the time between the two. */
  | { kind: 'fed'; feeding: false; paperLines: number };

export type JobSaid =
  /** `lines` of the job's dot lines are on paper, by the printer's word or by the model. First one: the first dot. */
  | { kind: 'progress'; lines: number; ofLines: number }
  /** Everything sent is on paper. `paperLines`: dot lines of paper that moved. */
  | { kind: 'done'; paperLines: number }
  /** Cut short; the condition says why. Counts as not printed. */
  | { kind: 'stopped'; paperLines: number };

/**
 * Dots to paper: plan, bytes, pacing, head and supply limits, status. One job at a time. A job given while the printer
 * isn't known yet waits for it; one given while it can't print is stopped at the next moment.
 */
export interface PrintEngine {
  open(heard: (said: EngineSaid) => void): Undo;
  /** The picture itself, without its tail. Undoing stops it and leaves the printer fit for the next job. */
  printBody(dots: Dots, heard: (said: JobSaid) => void): Undo;
  /** What closes a picture: imprint (mark and number) and feed to the tear edge. A picture counts as printed once its tail is out. */
  printTail(shot: number, heard: (said: JobSaid) => void): Undo;
  /** Moves paper by dot lines; negative is back, where the profile can. */
  feed(lines: number, heard: (said: JobSaid) => void): Undo;
  /** Estimated time until the head may print again after a rest, microseconds; 0 when it may now. */
  restUs(): number;
  /**
   * Leave for a coil pulse of this length, from now: 0 grants it, otherwise the time to wait before asking again,
   * microseconds. The engine answers from what it knows of the lines that are being heated and that lie in the printer's
   * buffer: coil and head together must not sag the supply under its floor. Left out: head and coil may always act at once.
   */
  coilWaitUs?(pulseUs: number): number;
}
