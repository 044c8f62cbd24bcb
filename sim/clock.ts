import type { Clock } from '../src/parts/clock.ts';
import { createTimers } from '../src/parts/timers.ts';

export interface VirtualClock extends Clock {
  /** Fires every timer due up to `untilUs`, deadline by deadline, timers set meanwhile included, and stops there. */
  runUntil(untilUs: number): void;
  /** Fires the next timer, if one is due by `latestUs`; says whether it did. */
  step(latestUs?: number): boolean;
  /** The board learns the time: wall time moves, `nowUs` doesn't. */
  stepWall(byMs: number): void;
  readonly pending: number;
  /** When the next timer falls due; Infinity when none is set. */
  readonly nextUs: number;
}

/** A clock that moves from deadline to deadline: a chain of timers inside one long step fires in order. */
export const createVirtualClock = (wallAtStartMs = Date.UTC(2026, 5, 20, 18, 0, 0)): VirtualClock => {
  const timers = createTimers();
  let nowUs = 0;
  let wallOffsetMs = wallAtStartMs;

  const clock: VirtualClock = {
    nowUs: () => nowUs,
    wallMs: () => wallOffsetMs + Math.floor(nowUs / 1000),
    after: (delayUs, due) => timers.set(nowUs + Math.max(0, Math.round(delayUs)), due),
    step(latestUs = Number.POSITIVE_INFINITY) {
      const timer = timers.take(latestUs);
      if (!timer) return false;
      nowUs = timer.dueUs;
      timer.due();
      return true;
    },
    runUntil(untilUs) {
      // Seconds times a million may miss the microsecond by a hair.
      const wholeUs = Math.round(untilUs);
      while (clock.step(wholeUs));
      if (wholeUs > nowUs) nowUs = wholeUs;
    },
    stepWall(byMs) {
      wallOffsetMs += byMs;
    },
    get pending() {
      return timers.pending;
    },
    get nextUs() {
      return timers.nextUs;
    },
  };
  return clock;
};
