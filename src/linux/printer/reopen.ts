import type { Undo } from '../../parts/clock.ts';
import { isFault } from '../../parts/fault.ts';
import type { PrinterSaid } from '../../parts/printer.ts';
import type { Timing } from '../timing.ts';

export const reopenUs = 500_000;

export const reasonOf = (error: unknown): string => {
  if (isFault(error)) return error.mend ? `${error.message} (${error.mend})` : error.message;
  return error instanceof Error ? error.message : String(error);
};

/** What every wire has in common: it is found, lost, looked for again; each is said once. */
export interface Attempts {
  found(): void;
  /** It is gone, or couldn't be opened: another try is made by itself. */
  lost(error: unknown): void;
  stop(): void;
}

export const createAttempts = (timing: Timing, tryOpen: () => void, heard: (said: PrinterSaid) => void): Attempts => {
  let told: 'found' | 'lost' | null = null;
  let stopped = false;
  let stopTimer: Undo = timing.after(0, tryOpen);
  return {
    found() {
      if (stopped || told === 'found') return;
      told = 'found';
      heard({ kind: 'found' });
    },
    lost(error) {
      if (stopped) return;
      stopTimer();
      stopTimer = timing.after(reopenUs, tryOpen);
      if (told === 'lost') return;
      told = 'lost';
      heard({ kind: 'lost', why: reasonOf(error) });
    },
    stop() {
      stopped = true;
      stopTimer();
    },
  };
};
