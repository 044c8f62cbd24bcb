import type { Clock } from '../parts/clock.ts';
import { type Host, processHost } from './inlet.ts';

/**
 * Time as it passes, for guards that must hold even while logical time catches up after a stall: hard limits, dead
 * times, blinking. Nothing that hangs on it reaches the machine but through the inlet.
 */
export type Timing = Pick<Clock, 'nowUs' | 'after'>;

export const createTiming = (host: Host = processHost): Timing => ({
  nowUs: host.monotonicUs,
  after(delayUs, due) {
    const dueUs = host.monotonicUs() + delayUs;
    const arm = () => host.wake(Math.max(0, dueUs - host.monotonicUs()), wake);
    // A timer of the event loop may come a millisecond early; a dead time may not.
    const wake = () => {
      if (host.monotonicUs() >= dueUs) due();
      else cancel = arm();
    };
    let cancel = arm();
    return () => cancel();
  },
});
