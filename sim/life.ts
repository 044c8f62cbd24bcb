import { type BoardClock, createBoardClock } from '../src/linux/inlet.ts';
import type { Clock, Inlet, PartName, Undo } from '../src/parts/clock.ts';
import type { VirtualClock } from './clock.ts';

/**
 * One life of the program, from power on to power cut, inside the world that goes on. It runs on the board's own
 * logical clock: that moves when a timer falls due or a part is heard. While the event loop stalls nothing is heard and
 * nothing fires; afterwards timers fire at their own deadlines, then what waited is heard. What the program does to a
 * part happens at the world's time, late if it was late.
 */
export interface Life {
  clock: Clock;
  readonly alive: boolean;
  /** The door: what a part says, if this life still hears it. */
  inlet: Inlet;
  /** The way in for what nothing is to be written down of. */
  hear<A>(part: PartName, heard: (said: A) => void): (said: A) => void;
  /** The way out: what is done to a part, if this life can still do it. Each time is a step. */
  act<A extends unknown[]>(done: (...what: A) => void): (...what: A) => void;
  /** A timer of the world's time, which a part of the program waits by; late where the event loop is. */
  after: Clock['after'];
  /** A stamp of the world on this life's clock, µs since its start. */
  fromWorld(atUs: number): number;
  /** Every input from now on, as it is taken in. */
  record: BoardClock['record'];
  /** The event loop stands still for this long. */
  stall(forUs: number): void;
  /** Power is gone: nothing more is heard, fired or done. */
  end(): void;
  /** Calls `then` instead of doing the `step`th thing from now on: a cut in the midst of what the program does. */
  endAtStep(step: number, then: () => void): void;
  readonly steps: number;
}

export interface LifeOptions {
  onWallStep?: (stepMs: number) => void;
}

export const createLife = (world: VirtualClock, options: LifeOptions = {}): Life => {
  let alive = true;
  let stalledUntilUs = 0;
  let late: (() => void)[] = [];
  let steps = 0;
  let lastStep = Number.POSITIVE_INFINITY;
  let atLastStep = () => {};

  const whenAwake = (act: () => void) => {
    if (world.nowUs() < stalledUntilUs) late.push(act);
    else act();
  };
  const wake = () => {
    if (!alive || world.nowUs() < stalledUntilUs) return;
    const now = late;
    late = [];
    for (const act of now) act();
  };
  const after = (delayUs: number, due: () => void): Undo => {
    let cancelled = false;
    const undo = world.after(delayUs, () => whenAwake(() => alive && !cancelled && due()));
    return () => {
      cancelled = true;
      undo();
    };
  };
  const board = createBoardClock({
    host: {
      monotonicUs: world.nowUs,
      wallMs: world.wallMs,
      wake: after,
      soon: act => void world.after(0, act),
    },
    onWallStep: options.onWallStep,
  });

  const inlet: Inlet = {
    take(part, said, deliver, atUs) {
      if (alive) whenAwake(() => alive && board.inlet.take(part, said, deliver, atUs));
    },
    note: (part, said) => board.inlet.note?.(part, said),
  };

  return {
    clock: board.clock,
    get alive() {
      return alive;
    },
    inlet,
    hear: (part, heard) => said => inlet.take(part, {}, () => heard(said)),
    act:
      done =>
      (...what) => {
        if (!alive) return;
        steps++;
        if (steps >= lastStep) atLastStep();
        else done(...what);
      },
    after,
    fromWorld: board.fromMonotonicUs,
    record: board.record,
    stall(forUs) {
      stalledUntilUs = Math.max(stalledUntilUs, world.nowUs() + forUs);
      world.after(stalledUntilUs - world.nowUs(), wake);
    },
    end() {
      alive = false;
      board.stop();
      late = [];
    },
    endAtStep(step, then) {
      lastStep = steps + step;
      atLastStep = then;
    },
    get steps() {
      return steps;
    },
  };
};
