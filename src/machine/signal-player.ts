import type { Config } from '../config/schema.ts';
import type { Log } from '../console/vocabulary.ts';
import type { Undo } from '../parts/clock.ts';
import type { LampPattern } from '../parts/lamp.ts';
import type { Rig } from '../parts/rig.ts';
import type { Signals } from './signals.ts';
import { wordsOf } from './world.ts';

/** Between one way of the lens and the way back, ms. */
const turnMs = 120;

export interface SignalPlayer {
  play(signals: Signals): void;
  /** Lamp dark, motor off. */
  stop(): void;
}

/** Puts the signals on lamp and motor. A lamp that fails says so once and never stops the camera. */
export const createSignalPlayer = (
  { lamp, motor, clock }: Pick<Rig, 'lamp' | 'motor' | 'clock'>,
  config: Config['motor'],
  log: Log,
): SignalPlayer => {
  const broken = new Set<string>();
  let shown: LampPattern | null = null;
  let moves: Signals['motor'] = 'still';
  let stopTimer: Undo = () => {};

  const attempt = (part: 'lamp' | 'motor', act: () => void) => {
    try {
      act();
    } catch (error) {
      if (!broken.has(part)) log('part-fault', { part, why: wordsOf(error) });
      broken.add(part);
    }
  };
  const drive = (direction: 'in' | 'out' | 'off') => attempt('motor', () => motor.drive(direction));
  const rack = (direction: 'in' | 'out') => {
    drive(direction);
    stopTimer = clock.after(config.travelMs * 1000, () => {
      drive('off');
      stopTimer = clock.after(turnMs * 1000, () => rack(direction === 'in' ? 'out' : 'in'));
    });
  };
  const show = (pattern: LampPattern) => {
    if (pattern === shown) return;
    shown = pattern;
    attempt('lamp', () => lamp.show(pattern));
  };
  const move = (to: Signals['motor']) => {
    if (to === moves || !config.rack) return;
    moves = to;
    stopTimer();
    if (to === 'racking') rack('in');
    else drive('off');
  };

  return {
    play(signals) {
      show(signals.lamp);
      move(signals.motor);
    },
    stop() {
      stopTimer();
      moves = 'still';
      drive('off');
      show({ name: 'closed', stepsMs: [] });
    },
  };
};
