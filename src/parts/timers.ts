import type { Undo } from './clock.ts';

export interface DueTimer {
  dueUs: number;
  due: () => void;
}

/** Timers by deadline; those due at the same microsecond in the order they were set. */
export interface Timers {
  set(dueUs: number, due: () => void): Undo;
  /** Takes out the next timer if it is due by `latestUs`. */
  take(latestUs: number): DueTimer | null;
  readonly pending: number;
  /** When the next timer falls due; Infinity when none is set. */
  readonly nextUs: number;
}

interface Entry {
  dueUs: number;
  order: number;
  due: (() => void) | null;
}

const before = (a: Entry, b: Entry) => a.dueUs < b.dueUs || (a.dueUs === b.dueUs && a.order < b.order);

/** A binary heap; what is taken back stays in it until it comes to the top. */
export const createTimers = (): Timers => {
  const heap: Entry[] = [];
  let order = 0;
  let pending = 0;

  const push = (entry: Entry) => {
    let at = heap.push(entry) - 1;
    while (at > 0) {
      const parent = (at - 1) >> 1;
      if (!before(entry, heap[parent])) break;
      heap[at] = heap[parent];
      at = parent;
    }
    heap[at] = entry;
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

  return {
    set(dueUs, due) {
      const entry: Entry = { dueUs, order: order++, due };
      push(entry);
      pending++;
      return () => {
        if (entry.due === null) return;
        entry.due = null;
        pending--;
      };
    },
    take(latestUs) {
      dropDead();
      const entry = heap[0];
      if (!entry?.due || entry.dueUs > latestUs) return null;
      popTop();
      const { dueUs, due } = entry;
      entry.due = null;
      pending--;
      return { dueUs, due };
    },
    get pending() {
      return pending;
    },
    get nextUs() {
      dropDead();
      return heap[0]?.dueUs ?? Number.POSITIVE_INFINITY;
    },
  };
};
