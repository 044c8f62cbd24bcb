import type { Clock, Undo } from '../src/parts/clock.ts';

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

interface Timer {
  dueUs: number;
  order: number;
  due: (() => void) | null;
}

const before = (a: Timer, b: Timer) => a.dueUs < b.dueUs || (a.dueUs === b.dueUs && a.order < b.order);

/** A clock that moves from deadline to deadline: a chain of timers inside one long step fires in order. */
export const createVirtualClock = (wallAtStartMs = Date.UTC(2026, 5, 20, 18, 0, 0)): VirtualClock => {
  const heap: Timer[] = [];
  let nowUs = 0;
  let order = 0;
  let wallOffsetMs = wallAtStartMs;
  let live = 0;

  const push = (timer: Timer) => {
    let at = heap.push(timer) - 1;
    while (at > 0) {
      const parent = (at - 1) >> 1;
      if (!before(timer, heap[parent])) break;
      heap[at] = heap[parent];
      at = parent;
    }
    heap[at] = timer;
  };
  const popTop = () => {
    const last = heap.pop();
    if (!last || heap.length === 0) return;
    let at = 0;
    for (;;) {
      let child = 2 * at + 1;
      if (child >= heap.length) break;
      if (child + 1 < heap.length && before(heap[child + 1], heap[child])) child++;
      if (!before(heap[child], last)) break;
      heap[at] = heap[child];
      at = child;
    }
    heap[at] = last;
  };
  const dropDead = () => {
    while (heap.length > 0 && heap[0].due === null) popTop();
  };

  const clock: VirtualClock = {
    nowUs: () => nowUs,
    wallMs: () => wallOffsetMs + Math.floor(nowUs / 1000),
    after(delayUs, due): Undo {
      const timer: Timer = { dueUs: nowUs + Math.max(0, Math.round(delayUs)), order: order++, due };
      push(timer);
      live++;
      return () => {
        if (timer.due === null) return;
        timer.due = null;
        live--;
      };
    },
    step(latestUs = Number.POSITIVE_INFINITY) {
      dropDead();
      const timer = heap[0];
      if (!timer?.due || timer.dueUs > latestUs) return false;
      popTop();
      nowUs = timer.dueUs;
      const { due } = timer;
      timer.due = null;
      live--;
      due();
      return true;
    },
    runUntil(untilUs) {
      while (clock.step(untilUs));
      if (untilUs > nowUs) nowUs = untilUs;
    },
    stepWall(byMs) {
      wallOffsetMs += byMs;
    },
    get pending() {
      return live;
    },
    get nextUs() {
      dropDead();
      return heap[0]?.dueUs ?? Number.POSITIVE_INFINITY;
    },
  };
  return clock;
};
