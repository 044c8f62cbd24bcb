import type { Undo } from '../../parts/clock.ts';
import type { Printer } from '../../parts/printer.ts';
import type { Timing } from '../timing.ts';

/** So much the bytes are ahead of the wire and room is left in the printer's buffer: see the pacing of a plan. */
const borneUs = 10_000;
/** Rows of one picture follow each other quicker than this; what comes later is another matter, and no longer late. */
const pauseUs = 40_000;

/**
 * Keeps writes as far apart as they were meant to be. When the event loop stood still, the timers that were due fire one
 * after the other, each at its own moment by the logical clock, and all at once by the real one: a printer without flow
 * control would be overrun, and one with a large buffer would still be at work when its time is over. So whatever follows a
 * late write is as late, until there is a pause; `drained` says how late that was.
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
  let queue: { dueUs: number; bytes: Uint8Array }[] = [];
  let lateUs = 0;
  let stopTimer: Undo = () => {};
  /** When all that was written had left. */
  let emptyUs = Number.POSITIVE_INFINITY;

  const forget = () => {
    queue = [];
    lateUs = 0;
    stopTimer();
  };
  const arm = () => {
    stopTimer();
    if (queue.length > 0) stopTimer = timing.after(Math.max(0, queue[0].dueUs - realUs()), flow);
  };
  const flow = () => {
    // A stall while bytes wait here makes what follows later still.
    if (queue.length > 0) {
      const moreUs = realUs() - queue[0].dueUs - borneUs;
      if (moreUs > 0) {
        lateUs += moreUs;
        for (const waiting of queue) waiting.dueUs += moreUs;
      }
    }
    while (queue.length > 0 && queue[0].dueUs <= realUs()) printer.write(queue.shift()!.bytes);
    arm();
  };

  return {
    open(heard) {
      const close = printer.open(said => {
        if (said.kind === 'lost' || said.kind === 'found') forget();
        if (said.kind === 'drained') {
          if (queue.length > 0) return;
          emptyUs = realUs();
        }
        heard(said);
      });
      return () => {
        forget();
        close();
      };
    },
    write(bytes) {
      const nowUs = realUs();
      const ownUs = nowUs - logicalUs();
      if (logicalUs() > emptyUs + pauseUs) lateUs = 0;
      emptyUs = Number.POSITIVE_INFINITY;
      if (queue.length === 0 && ownUs > lateUs + borneUs) lateUs = ownUs;
      const dueUs = logicalUs() + lateUs;
      if (queue.length === 0 && dueUs <= nowUs) return printer.write(bytes);
      queue.push({ dueUs, bytes: bytes.slice() });
      if (queue.length === 1) arm();
    },
    discard() {
      forget();
      printer.discard();
    },
  };
};
