import { close as closeFile, constants, openSync, readSync, writeSync } from 'node:fs';
import type { Undo } from '../../parts/clock.ts';
import type { Printer } from '../../parts/printer.ts';
import { codeOf, deviceFault, findLibc, pollOut } from '../native.ts';
import type { Timing } from '../timing.ts';
import { watchFd } from '../watch.ts';
import { getStatusIoctl, watchPortStatus } from './port-status.ts';
import { createAttempts } from './reopen.ts';

export interface UsbOptions {
  device: string;
  timing: Timing;
}

/** Between looks at a printer that takes nothing for the moment; a full-speed packet takes far less. */
const retryUs = 4_000;
const chunkBytes = 4096;
/** Where arrivals can't be waited for. */
const askEveryMs = 50;

/**
 * A printer of the USB printer class, by the kernel's `usblp`. Writes never block: the printer that is full lets us wait,
 * and what waits here can still be discarded.
 */
export const createUsbPrinter = ({ device, timing }: UsbOptions): Printer => {
  let session: { write(bytes: Uint8Array): void; discard(): void; close(): void } | null = null;

  return {
    open(heard) {
      const attempts = createAttempts(timing, tryOpen, said => {
        if (said.kind === 'lost') session = null;
        heard(said);
      });
      function tryOpen() {
        let fd: number;
        try {
          fd = openSync(device, constants.O_RDWR | constants.O_NONBLOCK);
        } catch (error) {
          attempts.lost(deviceFault(error, 'printer', device, 'lp'));
          return;
        }
        const input = Buffer.alloc(1024);
        let queue: Uint8Array[] = [];
        let over = false;
        let asking = false;
        let stopRetry: Undo = () => {};

        const close = () => {
          if (over) return;
          over = true;
          stopRetry();
          stopWatch();
          stopStatus();
          if (!asking) letGo();
        };
        const letGo = () => {
          // Of a printer that was pulled out in the middle of a transfer, the kernel may be long in letting go.
          closeFile(fd, () => {});
        };
        const end = (error: unknown) => {
          if (over) return;
          close();
          attempts.lost(deviceFault(error, 'printer', device, 'lp'));
        };
        /** Whether the last transfer is through. */
        const isFree = (): boolean => {
          return libc ? (libc.ready(fd, pollOut) & pollOut) !== 0 : writeSync(fd, new Uint8Array(0)) === 0;
        };
        const again = () => {
          stopRetry();
          stopRetry = timing.after(retryUs, pump);
        };
        const pump = () => {
          // The kernel would let a write wait behind the question.
          if (asking) return again();
          try {
            while (queue.length > 0) {
              const [bytes] = queue;
              const sent = writeSync(fd, bytes, 0, Math.min(bytes.length, chunkBytes));
              if (sent === bytes.length) queue.shift();
              else queue[0] = bytes.subarray(sent);
            }
          } catch (error) {
            return codeOf(error) === 'EAGAIN' ? again() : end(error);
          }
          stopRetry();
          stopRetry = timing.after(retryUs, settle);
        };
        const settle = () => {
          try {
            if (!isFree()) return again();
          } catch (error) {
            return codeOf(error) === 'EAGAIN' ? again() : end(error);
          }
          heard({ kind: 'drained' });
        };
        const hear = (gone: boolean) => {
          if (over || (asking && !gone)) return;
          try {
            for (;;) {
              const length = readSync(fd, input, 0, input.length, null);
              if (length === 0) break;
              heard({ kind: 'bytes', bytes: Uint8Array.from(input.subarray(0, length)) });
            }
          } catch (error) {
            if (codeOf(error) !== 'EAGAIN') return end(error);
          }
          if (gone) end(Object.assign(new Error('ENODEV'), { code: 'ENODEV' }));
        };
        const libc = findLibc();
        /** The printer has seconds to answer the kernel. Until then the file stays open, so that its number stays its own. */
        const askStatus = (answered: (status: number | null) => void) => {
          if (!libc) return answered(null);
          const status = new Uint8Array(4);
          asking = true;
          libc.ioctlLater(fd, getStatusIoctl, status, well => {
            asking = false;
            if (over) letGo();
            else answered(well ? status[0] : null);
          });
        };
        const stopStatus = watchPortStatus({ timing, ask: askStatus, heard: said => over || heard(said) });
        const stopWatch = watchFd(fd, 'in', hear, { everyMs: askEveryMs });
        session = {
          write(bytes) {
            const idle = queue.length === 0;
            queue.push(bytes.slice());
            if (idle) pump();
          },
          discard() {
            queue = [];
          },
          close,
        };
        attempts.found();
      }
      return () => {
        attempts.stop();
        session?.close();
        session = null;
      };
    },
    write: bytes => session?.write(bytes),
    discard: () => session?.discard(),
  };
};
