import type { Clock, Undo } from '../src/parts/clock.ts';
import type { Motor } from '../src/parts/motor.ts';
import type { Traces } from './traces.ts';

export interface MotorLimits {
  /** Both sides off for this long before the other side is driven. */
  deadMs: number;
  /** Longest drive in one direction. */
  travelMs: number;
}

export interface VirtualMotor extends Motor {
  powerOff(): void;
}

/** The bridge with the part's own guard: never both sides, dead time before reversing, a limit on travel. */
export const createVirtualMotor = (clock: Clock, traces: Traces, limits: MotorLimits): VirtualMotor => {
  let side: 'in' | 'out' | 'off' = 'off';
  let wanted: 'in' | 'out' | 'off' = 'off';
  let releasedAtUs = Number.NEGATIVE_INFINITY;
  let travelled: 'in' | 'out' | null = null;
  let drivenUs = 0;
  let drivenSinceUs = 0;
  let stop: Undo = () => {};

  const switchTo = (next: 'in' | 'out' | 'off') => {
    stop();
    if (side !== 'off') {
      traces.record(side === 'in' ? 'motor-in' : 'motor-out', 0);
      releasedAtUs = clock.nowUs();
      drivenUs += clock.nowUs() - drivenSinceUs;
    }
    side = next;
    if (side === 'off') return;
    if (travelled !== side) drivenUs = 0;
    travelled = side;
    drivenSinceUs = clock.nowUs();
    traces.record(side === 'in' ? 'motor-in' : 'motor-out', 1);
    // The lens is at its stop once a side has been driven for the whole travel, however many times it was let go between.
    stop = clock.after(Math.max(0, limits.travelMs * 1000 - drivenUs), () => switchTo('off'));
  };

  return {
    drive(direction) {
      if (direction === wanted) return;
      wanted = direction;
      switchTo('off');
      if (direction === 'off') return;
      if (direction === travelled && drivenUs >= limits.travelMs * 1000) return;
      const restUs = direction === travelled ? 0 : releasedAtUs + limits.deadMs * 1000 - clock.nowUs();
      if (restUs > 0) stop = clock.after(restUs, () => switchTo(direction));
      else switchTo(direction);
    },
    powerOff() {
      wanted = 'off';
      switchTo('off');
    },
  };
};
