import type { Undo } from '../../parts/clock.ts';
import type { Printer } from '../../parts/printer.ts';
import type { Timing } from '../timing.ts';

/** A timer may be this late without anything being moved for it: the bytes are as far ahead of the wire. */
const borneUs = 10_000;
/** Rows of one picture follow each other within this; what was meant to come later still has nothing to wait for. */
const longestUs = 200_000;

/**
 * Keeps writes as far apart as they were meant to be. When the event loop stood still, the timers that were due fire one
 * after the other, each at its own moment by the logical clock, and all at once by the real one: a printer without flow
 * control would be overrun, and one with a large buffer would still be at work when its time is over. So what follows a
 * late write closely is as late, and `drained` says how late that was.
 *
 * @param logicalUs Time that the writer goes by, µs.
 * @param realUs The same as it really is; never less.
 */
export const keepSpaced = (
  printer: Printer,
  logicalUs: () => number,
  realUs: () => number,
  timing: Pick<Timing, 'after'>,
): Printer => {
  let queue: { afterUs: number; bytes: Uint8Array }[] = [];
  let meantUs = Number.NEGATIVE_INFINITY;
  /** When the last one left, or was due where that is borne. */
  let leftUs = Number.NEGATIVE_INFINITY;
  let stopTimer: Undo = () => {};

  const leave = (bytes: Uint8Array, dueUs: number) => {
    // What is too late to be borne is late in full: made good in part, the next bytes come before there is room for them.
    leftUs = realUs() - dueUs > borneUs ? realUs() : dueUs;
    printer.write(bytes);
  };
  const flow = () => {
    stopTimer();
    for (let [next] = queue; next; [next] = queue) {
      const dueUs = leftUs + next.afterUs;
      if (dueUs > realUs()) {
        stopTimer = timing.after(dueUs - realUs(), flow);
        return;
      }
      queue.shift();
      leave(next.bytes, dueUs);
    }
  };
  const forget = () => {
    stopTimer();
    queue = [];
  };

  return {
    open(heard) {
      const close = printer.open(said => {
        if (said.kind === 'lost') forget();
        if (said.kind === 'drained' && queue.length > 0) return;
        heard(said);
      });
      return () => {
        forget();
        close();
      };
    },
    write(bytes) {
      const afterUs = Math.min(logicalUs() - meantUs, longestUs);
      meantUs = logicalUs();
      if (queue.length === 0 && leftUs + afterUs <= realUs()) return leave(bytes, leftUs + afterUs);
      queue.push({ afterUs, bytes: bytes.slice() });
      if (queue.length === 1) flow();
    },
    discard() {
      forget();
      printer.discard();
    },
  };
};
