import type { Clock, Undo } from '../src/parts/clock.ts';
import type { Lamp, LampPattern } from '../src/parts/lamp.ts';
import type { Traces } from './traces.ts';

export interface VirtualLamp extends Lamp {
  /** What is shown now; null before the first `show` and after power is gone. */
  readonly shown: LampPattern | null;
  powerOff(): void;
}

/** Plays the pattern on its own clock, as a lamp driven by a kernel timer would, and records each change of light. */
export const createVirtualLamp = (clock: Clock, traces: Traces, recordBlinks = true): VirtualLamp => {
  let shown: LampPattern | null = null;
  let stop: Undo = () => {};
  let lit = false;

  const light = (on: boolean) => {
    if (on === lit) return;
    lit = on;
    traces.record('lamp', on ? 1 : 0);
  };
  const play = (steps: readonly number[], at: number) => {
    light(at % 2 === 0);
    if (!Number.isFinite(steps[at])) return;
    stop = clock.after(steps[at] * 1000, () => play(steps, (at + 1) % steps.length));
  };
  const dark = () => {
    stop();
    light(false);
  };

  return {
    show(pattern) {
      // A second call with the same light would restart its rhythm.
      if (shown === pattern || (shown?.name === pattern.name && shown.stepsMs.join() === pattern.stepsMs.join()))
        return;
      stop();
      shown = pattern;
      traces.record('lamp-pattern', pattern.name);
      if (pattern.stepsMs.length === 0) return light(false);
      if (recordBlinks) play(pattern.stepsMs, 0);
      else light(true);
    },
    powerOff() {
      dark();
      shown = null;
    },
    get shown() {
      return shown;
    },
  };
};
