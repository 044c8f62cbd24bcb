import { closeSync, openSync, writeSync } from 'node:fs';
import type { Printer } from '../../parts/printer.ts';
import { deviceFault } from '../native.ts';
import type { Timing } from '../timing.ts';
import { createAttempts } from './reopen.ts';

/** For desks without a printer: every byte is added to a file. */
export const createFilePrinter = ({ path, timing }: { path: string; timing: Timing }): Printer => {
  let fd: number | null = null;
  let wrote: () => void = () => {};
  let failed: (error: unknown) => void = () => {};
  const close = () => {
    if (fd !== null) closeSync(fd);
    fd = null;
  };

  return {
    open(heard) {
      const attempts = createAttempts(timing, tryOpen, heard);
      function tryOpen() {
        try {
          fd = openSync(path, 'a');
          attempts.found();
        } catch (error) {
          attempts.lost(deviceFault(error, 'printer', path, 'root'));
        }
      }
      let waiting = false;
      wrote = () => {
        if (waiting) return;
        waiting = true;
        timing.after(0, () => {
          waiting = false;
          if (fd !== null) heard({ kind: 'drained' });
        });
      };
      failed = error => {
        close();
        attempts.lost(deviceFault(error, 'printer', path, 'root'));
      };
      return () => {
        attempts.stop();
        close();
      };
    },
    write(bytes) {
      if (fd === null) return;
      try {
        writeSync(fd, bytes);
        wrote();
      } catch (error) {
        failed(error);
      }
    },
    discard() {},
  };
};
