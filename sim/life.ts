import type { Clock } from '../src/parts/clock.ts';
import { createVirtualClock, type VirtualClock } from './clock.ts';

/**
 * One life of the program, from power on to power cut, inside the world that goes on. Its clock is logical: it moves
 * when a timer of its own falls due or something is heard from a part. A stalled event loop hears nothing and fires
 * nothing; afterwards the timers fire at their own deadlines, then what waited is heard. What it does to parts happens
 * at the world's time, late if it was late.
 */
export interface Life {
  clock: Clock;
  readonly alive: boolean;
  /** The way in: what a part says, if this life still hears it. */
  hear<A extends unknown[]>(heard: (...said: A) => void): (...said: A) => void;
  /** The way out: what is done to a part, if this life can still do it. Counts as a step. */
  act<A extends unknown[]>(done: (...what: A) => void): (...what: A) => void;
  /** The event loop stands still for this long. */
  stall(forUs: number): void;
  /** Power is gone: nothing more is heard, fired or done. */
  end(): void;
  /** Calls `then` instead of the `step`th thing done from now on: a cut in the midst of what the program does. */
  endAtStep(step: number, then: () => void): void;
  readonly steps: number;
}

export const createLife = (world: VirtualClock): Life => {
  const own = createVirtualClock();
  own.runUntil(world.nowUs());
  let alive = true;
  let stalledUntilUs = 0;
  let pumpAtUs = Number.POSITIVE_INFINITY;
  let stopPump = () => {};
  let waiting: (() => void)[] = [];
  let steps = 0;
  let lastStep = Number.POSITIVE_INFINITY;
  let atLastStep = () => {};

  const stalled = () => world.nowUs() < stalledUntilUs;
  const catchUp = () => own.runUntil(world.nowUs());
  /** Keeps one timer of the world at this life's next deadline. */
  const pump = () => {
    const nextUs = alive && !stalled() ? own.nextUs : Number.POSITIVE_INFINITY;
    if (nextUs === pumpAtUs) return;
    stopPump();
    pumpAtUs = nextUs;
    if (nextUs === Number.POSITIVE_INFINITY) return;
    stopPump = world.after(nextUs - world.nowUs(), () => {
      pumpAtUs = Number.POSITIVE_INFINITY;
      catchUp();
      pump();
    });
  };
  const wake = () => {
    if (!alive || stalled()) return;
    catchUp();
    const late = waiting;
    waiting = [];
    for (const deliver of late) deliver();
    pump();
  };

  const life: Life = {
    clock: {
      nowUs: own.nowUs,
      wallMs: () => world.wallMs() - Math.floor(world.nowUs() / 1000) + Math.floor(own.nowUs() / 1000),
      after(delayUs, due) {
        const undo = own.after(delayUs, () => alive && due());
        pump();
        return undo;
      },
    },
    get alive() {
      return alive;
    },
    hear:
      heard =>
      (...said) => {
        if (!alive) return;
        if (stalled()) {
          waiting.push(() => alive && heard(...said));
          return;
        }
        catchUp();
        heard(...said);
        pump();
      },
    act:
      done =>
      (...what) => {
        if (!alive) return;
        steps++;
        if (steps >= lastStep) {
          atLastStep();
          return;
        }
        done(...what);
      },
    stall(forUs) {
      stalledUntilUs = Math.max(stalledUntilUs, world.nowUs() + forUs);
      pump();
      world.after(stalledUntilUs - world.nowUs(), wake);
    },
    end() {
      alive = false;
      stopPump();
      waiting = [];
    },
    endAtStep(step, then) {
      lastStep = steps + step;
      atLastStep = then;
    },
    get steps() {
      return steps;
    },
  };
  return life;
};
