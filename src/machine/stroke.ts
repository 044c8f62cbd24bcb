import type { Undo } from '../parts/clock.ts';
import type { CameraEvent } from './events.ts';
import { type World, wordsOf } from './world.ts';

/** How long a stroke waits for the head to let the supply recover before it is left out. */
const longestWaitUs = 1_000_000;
/** A part that says when it let go says so at once; from then on its own limit is believed instead. */
const wordWithinUs = 300_000;

/**
 * One stroke of the shutter: waits for leave, energises, lets go after the pulse, and hears when that really was.
 * Undone, it lets go at once.
 */
export const makeStroke = (
  { rig: { clock, shutter }, engine, config }: Pick<World, 'rig' | 'engine' | 'config'>,
  tell: (event: CameraEvent) => void,
): Undo => {
  const pulseUs = config.shutter.pulseMs * 1000;
  const giveUpUs = clock.nowUs() + longestWaitUs;
  let startUs: number | null = null;
  let releasedUs: number | null = null;
  let on = false;
  let stopTimer: Undo = () => {};

  const attempt = (act: () => void) => {
    try {
      act();
    } catch (error) {
      tell({ type: 'coil.failed', why: wordsOf(error), onUs: startUs });
    }
  };
  const later = (delayUs: number, act: () => void) => {
    stopTimer = clock.after(delayUs, () => attempt(act));
  };
  const letGo = () => {
    if (!on) return;
    shutter.release();
    on = false;
  };
  const over = (onUs: number, atUs: number) => {
    stopTimer();
    tell({ type: 'coil.off', onUs, atUs });
  };
  const stopListening = shutter.listen?.(({ atUs }) => {
    // What an earlier stroke still has to say is none of this one's business.
    if (startUs === null || atUs < startUs) return;
    releasedUs = atUs;
    if (!on) over(startUs, atUs);
  });

  const end = (onUs: number) => {
    letGo();
    if (releasedUs !== null) over(onUs, releasedUs);
    else if (!stopListening) over(onUs, clock.nowUs());
    else later(wordWithinUs, () => over(onUs, onUs + config.shutter.longestPulseMs * 1000));
  };
  const begin = () => {
    const waitUs = engine.coilWaitUs?.(pulseUs) ?? 0;
    if (waitUs > 0) {
      if (clock.nowUs() + waitUs > giveUpUs) throw new Error('the head needs all of the supply');
      return later(Math.max(1, waitUs), begin);
    }
    shutter.energise();
    on = true;
    const onUs = clock.nowUs();
    startUs = onUs;
    tell({ type: 'coil.on', atUs: onUs });
    later(pulseUs, () => end(onUs));
  };

  attempt(begin);
  return () => {
    stopTimer();
    stopListening?.();
    letGo();
  };
};
