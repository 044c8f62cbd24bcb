import type { Undo } from '../parts/clock.ts';
import { Fault } from '../parts/fault.ts';
import type { Shutter, ShutterSaid } from '../parts/shutter.ts';
import type { OutputLine } from './gpio/lines.ts';
import type { Supervisor } from './supervisor.ts';
import type { Timing } from './timing.ts';

export interface CoilLimits {
  longestPulseMs: number;
  /** Longest time on within ten seconds, percent. */
  dutyPercent: number;
}

export interface BoardShutter extends Required<Shutter> {
  close(): void;
}

export interface ShutterOptions {
  timing: Timing;
  line: OutputLine;
  limits: CoilLimits;
  supervisor: Supervisor | null;
  /** A limit had to act: how long the coil was on. */
  onLimit(onUs: number): void;
  fromMonotonicUs(stampUs: number): number;
}

const dutyWindowUs = 10_000_000;
/** A pulse shorter than this moves nothing. */
const leastPulseUs = 1000;

/**
 * The coil's gate. Its limits hold by time as it passes, not by logical time: this part's own timer lets go, and the
 * supervisor does where the event loop is late.
 */
export const createShutter = (options: ShutterOptions): BoardShutter => {
  const { timing, line, limits, supervisor } = options;
  const listeners = new Set<(said: ShutterSaid) => void>();
  const pulses: { fromUs: number; toUs: number }[] = [];
  let onSinceUs: number | null = null;
  let actedBefore = 0;
  let stopLimit: Undo = () => {};
  let closed = false;

  const onTimeUs = (nowUs: number): number => {
    const sinceUs = nowUs - dutyWindowUs;
    while (pulses.length > 0 && pulses[0].toUs <= sinceUs) pulses.shift();
    return pulses.reduce((sum, { fromUs, toUs }) => sum + toUs - Math.max(fromUs, sinceUs), 0);
  };
  const release = (byLimit: boolean) => {
    if (onSinceUs === null) return;
    stopLimit();
    line.set(false);
    // Only now: should the line not have taken it, the supervisor still tries at the deadline.
    supervisor?.off();
    const bySupervisor = supervisor !== null && supervisor.acted !== actedBefore;
    const offUs = bySupervisor ? supervisor.actedAtUs : timing.nowUs();
    pulses.push({ fromUs: onSinceUs, toUs: offUs });
    if (byLimit || bySupervisor) options.onLimit(offUs - onSinceUs);
    onSinceUs = null;
    for (const heard of listeners) heard({ kind: 'released', atUs: options.fromMonotonicUs(offUs) });
  };

  return {
    energise() {
      if (closed || onSinceUs !== null) return;
      if (supervisor && !supervisor.up)
        throw new Fault('part-failed', "the coil's supervisor isn't up", 'it comes up by itself within a second');
      const nowUs = timing.nowUs();
      const leftUs = (dutyWindowUs * limits.dutyPercent) / 100 - onTimeUs(nowUs);
      if (leftUs < leastPulseUs)
        throw new Fault('part-failed', 'the coil has been on for all its duty', 'it may be driven again in seconds');
      const longestUs = Math.min(limits.longestPulseMs * 1000, leftUs);
      actedBefore = supervisor?.acted ?? 0;
      supervisor?.on(nowUs + longestUs);
      onSinceUs = nowUs;
      stopLimit = timing.after(longestUs, () => release(true));
      try {
        line.set(true);
      } catch (error) {
        release(false);
        throw new Fault(
          'part-failed',
          `the coil's line can't be driven: ${(error as Error).message}`,
          'see its driver',
          {
            cause: error,
          },
        );
      }
    },
    release: () => release(false),
    listen(heard) {
      listeners.add(heard);
      return () => void listeners.delete(heard);
    },
    close() {
      if (closed) return;
      release(false);
      closed = true;
      line.close();
      supervisor?.close();
    },
  };
};
