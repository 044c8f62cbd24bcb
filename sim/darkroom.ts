import type { Clock } from '../src/parts/clock.ts';
import type { Caption, Darkroom, Dots } from '../src/parts/darkroom.ts';
import { isFault } from '../src/parts/fault.ts';
import type { Frame } from '../src/parts/webcam.ts';
import type { Traces } from './traces.ts';

export type Develop = (frame: Frame, caption: Caption) => Dots;

export interface VirtualDarkroom extends Darkroom {
  control: {
    /** Every picture fails with this reason, until null. */
    fail(why: string | null): void;
    /** Developing takes this many times as long. */
    slow(times: number): void;
  };
  /** Called with each picture that comes out. */
  onDeveloped: ((shot: number, frame: Frame, dots: Dots) => void) | null;
}

/**
 * Develops at once and hands the dots over after the time it would take on the board. `costUs`: microseconds for a
 * whole picture.
 */
export const createVirtualDarkroom = (
  clock: Clock,
  traces: Traces,
  develop: Develop,
  costUs: (dots: Dots) => number,
): VirtualDarkroom => {
  let failing: string | null = null;
  let times = 1;

  const attempt = (frame: Frame, caption: Caption): Dots | string => {
    if (failing !== null) return failing;
    try {
      return develop(frame, caption);
    } catch (error) {
      // A torn frame can't be decoded: the real darkroom's worker says so in a message. Anything else is our own fault.
      if (!isFault(error)) throw error;
      return error.message;
    }
  };

  const darkroom: VirtualDarkroom = {
    onDeveloped: null,
    develop(frame, caption, heard) {
      traces.record('develop', `${caption.shot} ${frame.sequence}`);
      const result = attempt(frame, caption);
      const afterUs = typeof result === 'string' ? 10_000 : costUs(result) * times;
      return clock.after(afterUs, () => {
        if (typeof result === 'string') return heard({ kind: 'failed', why: result });
        darkroom.onDeveloped?.(caption.shot, frame, result);
        heard({ kind: 'developed', dots: result });
      });
    },
    control: {
      fail(why) {
        failing = why;
      },
      slow(now) {
        times = now;
      },
    },
  };
  return darkroom;
};
