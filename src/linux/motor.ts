import type { Undo } from '../parts/clock.ts';
import type { Motor } from '../parts/motor.ts';
import type { OutputLine } from './gpio/lines.ts';
import type { Timing } from './timing.ts';

export interface MotorLimits {
  /** Both sides off for this long before the other side is driven. */
  deadMs: number;
  /** Longest drive in one direction. */
  travelMs: number;
}

export interface BoardMotor extends Motor {
  close(): void;
}

type Side = 'in' | 'out';

/**
 * An H-bridge on two lines. Whatever is asked: never both sides, a dead time before reversing, and no longer in one
 * direction than the lens travels, however often it was let go between.
 */
export const createMotor = (timing: Timing, lines: Record<Side, OutputLine>, limits: MotorLimits): BoardMotor => {
  const travelUs = limits.travelMs * 1000;
  let wanted: Side | 'off' = 'off';
  let driven: Side | null = null;
  let drivenSinceUs = 0;
  let releasedAtUs = Number.NEGATIVE_INFINITY;
  let travelled: Side | null = null;
  let travelledUs = 0;
  let stop: Undo = () => {};

  const release = () => {
    stop();
    if (driven === null) return;
    lines[driven].set(false);
    releasedAtUs = timing.nowUs();
    travelledUs += releasedAtUs - drivenSinceUs;
    driven = null;
  };
  const push = (side: Side) => {
    if (travelled !== side) travelledUs = 0;
    travelled = side;
    if (travelledUs >= travelUs) return;
    drivenSinceUs = timing.nowUs();
    driven = side;
    stop = timing.after(travelUs - travelledUs, release);
    lines[side].set(true);
  };

  return {
    drive(direction) {
      if (direction === wanted) return;
      wanted = direction;
      release();
      if (direction === 'off') return;
      const restUs = direction === travelled ? 0 : releasedAtUs + limits.deadMs * 1000 - timing.nowUs();
      if (restUs > 0) stop = timing.after(restUs, () => push(direction));
      else push(direction);
    },
    close() {
      wanted = 'off';
      release();
      lines.in.close();
      lines.out.close();
    },
  };
};
