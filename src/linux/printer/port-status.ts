import type { Undo } from '../../parts/clock.ts';
import type { PrinterSaid } from '../../parts/printer.ts';
import type { Timing } from '../timing.ts';

/** `LPGETSTATUS` of the kernel's `linux/lp.h`, which `usblp` answers by the class's GET_PORT_STATUS. */
export const getStatusIoctl = 0x060b;
const everyUs = 1_000_000;
/** A printer that doesn't answer so often has none. */
const longestSilence = 3;
// Universal Serial Bus Device Class Definition for Printing Devices 1.1, 4.2.2.
const paperEmptyBit = 0x20;
const notErrorBit = 0x08;

export interface PortStatusOptions {
  timing: Timing;
  /** Asks the port without holding anything up; null: it didn't answer. */
  ask(answered: (status: number | null) => void): void;
  heard(said: Extract<PrinterSaid, { kind: 'port-status' }>): void;
}

/**
 * Asks the port of a USB printer once a second and says what changed. Cheap printers leave the whole byte at zero, which
 * would be an error: it is believed only of one that has once said that it has none.
 */
export const watchPortStatus = ({ timing, ask, heard }: PortStatusOptions): Undo => {
  let stopped = false;
  let silences = 0;
  let honest = false;
  let told = { paperOut: false, error: false };
  let stopTimer: Undo = () => {};

  const take = (status: number) => {
    honest ||= (status & notErrorBit) !== 0;
    const paperOut = (status & paperEmptyBit) !== 0;
    const error = honest && !paperOut && (status & notErrorBit) === 0;
    if (paperOut === told.paperOut && error === told.error) return;
    told = { paperOut, error };
    heard({ kind: 'port-status', ...told });
  };
  const look = () =>
    ask(status => {
      if (stopped) return;
      silences = status === null ? silences + 1 : 0;
      if (status !== null) take(status);
      if (silences < longestSilence) stopTimer = timing.after(everyUs, look);
    });
  stopTimer = timing.after(0, look);
  return () => {
    stopped = true;
    stopTimer();
  };
};
