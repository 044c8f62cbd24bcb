import type { Button, ButtonSaid } from '../src/parts/button.ts';
import type { Clock } from '../src/parts/clock.ts';
import type { Chance } from './random.ts';
import type { Traces } from './traces.ts';

export interface BounceFigures {
  meanUs: number;
  maxUs: number;
}

/** What a published study of sixteen switches found (Ganssle, A Guide to Debouncing, figures as quoted elsewhere). */
export const studiedBounce: BounceFigures = { meanUs: 1557, maxUs: 6200 };

/**
 * Rate of an exponential distribution cut off at 1 whose mean is `mean` (0…0.5): bounce times crowd near zero and
 * have a hard longest value, which is how the study's mean and maximum fit together.
 */
const rateForMean = (mean: number): number => {
  const meanAt = (rate: number) => 1 / rate - 1 / Math.expm1(rate);
  let low = 1e-6;
  let high = 1e3;
  for (let i = 0; i < 80; i++) {
    const middle = (low + high) / 2;
    if (meanAt(middle) > mean) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
};

/** Draws, for one closing or opening of the contact, the times (µs after the first edge) of its further edges: an even count, the last one is still. */
export const createBounce = (figures: BounceFigures, luck: Chance): (() => number[]) => {
  const rate = rateForMean(figures.meanUs / figures.maxUs);
  return () => {
    const lastUs = Math.round((-Math.log(1 - luck.next() * -Math.expm1(-rate)) / rate) * figures.maxUs);
    if (lastUs < 2) return [];
    // Chatter of a few hundred microseconds a swing; common practice, no source.
    const inner = 2 * Math.min(20, Math.floor(lastUs / luck.whole(150, 600))) + 1;
    const times = Array.from({ length: inner }, () => 1 + Math.floor(luck.next() * (lastUs - 1)));
    return [...times, lastUs].sort((a, b) => a - b);
  };
};

export interface ButtonControl {
  /** A finger: down, held for `holdMs`, up; both edges bounce unless told otherwise. */
  press(holdMs: number, bounce?: boolean): void;
  /** One raw edge, as a recording gives it. */
  contact(down: boolean): void;
  /** A loose contact: edges at random for `forMs`, `gapUs` apart in the mean; it ends open. */
  storm(forMs: number, gapUs?: number): void;
  /** `times` presses by an impatient hand. */
  mash(times: number, everyMs: number, holdMs: number): void;
  /** Welded closed, or cut off (open), until `null`. */
  stick(level: boolean | null): void;
  /** How many presses a finger has begun so far. */
  readonly presses: number;
}

export const createVirtualButton = (
  clock: Clock,
  traces: Traces,
  luck: Chance,
  figures = studiedBounce,
): { button: Button; control: ButtonControl } => {
  const listeners = new Set<(said: ButtonSaid) => void>();
  const bounce = createBounce(figures, luck);
  let finger = false;
  let stuck: boolean | null = null;
  let level = false;
  let presses = 0;

  const settle = () => {
    const next = stuck ?? finger;
    if (next === level) return;
    level = next;
    traces.record('button', level ? 1 : 0);
    for (const heard of listeners) heard({ kind: 'level', down: level, atUs: clock.nowUs() });
  };
  const set = (down: boolean) => {
    finger = down;
    settle();
  };
  const swing = (down: boolean, bouncing: boolean) => {
    set(down);
    if (bouncing) bounce().forEach((atUs, i) => void clock.after(atUs, () => set(i % 2 === 0 ? !down : down)));
  };

  const control: ButtonControl = {
    press(holdMs, bouncing = true) {
      presses++;
      swing(true, bouncing);
      clock.after(holdMs * 1000, () => swing(false, bouncing));
    },
    contact: set,
    storm(forMs, gapUs = 400) {
      let atUs = 0;
      for (let down = true; ; down = !down) {
        const thisLevel = down;
        clock.after(atUs, () => set(thisLevel));
        atUs += Math.ceil(-Math.log(1 - luck.next()) * gapUs);
        if (atUs >= forMs * 1000) break;
      }
      clock.after(forMs * 1000, () => set(false));
    },
    mash(times, everyMs, holdMs) {
      for (let i = 0; i < times; i++) clock.after(i * everyMs * 1000, () => control.press(holdMs));
    },
    stick(now) {
      stuck = now;
      settle();
    },
    get presses() {
      return presses;
    },
  };
  return {
    button: {
      listen(heard) {
        listeners.add(heard);
        return () => void listeners.delete(heard);
      },
    },
    control,
  };
};
