import type { Undo } from '../../parts/clock.ts';
import type { Fault } from '../../parts/fault.ts';
import type { Printer, PrinterSaid } from '../../parts/printer.ts';
import { deviceFault } from '../native.ts';
import type { Timing } from '../timing.ts';
import { type Attempts, createAttempts } from './reopen.ts';

/** What is used of a `SerialPort`. */
export interface Port {
  open(done: (error: Error | null) => void): void;
  write(bytes: Uint8Array, done: (error: Error | null | undefined) => void): void;
  drain(done: (error: Error | null) => void): void;
  flush(done: (error: Error | null) => void): void;
  get(done: (error: Error | null, lines?: { cts: boolean }) => void): void;
  close(done: (error: Error | null) => void): void;
  on(event: 'data', heard: (bytes: Uint8Array) => void): void;
  on(event: 'close' | 'error', heard: (error: Error | null) => void): void;
}

export interface SerialOptions {
  device: string;
  baud: number;
  flow: 'none' | 'xonxoff' | 'rtscts';
  timing: Timing;
  /** Opens nothing yet. */
  createPort(options: Record<string, unknown>): Port;
}

/** While bytes wait, and until the other end goes on, its line is looked at this often. */
const lookUs = 20_000;

/** `serialport` says what went wrong in its words only. */
const openFault = (error: Error, device: string): Fault => {
  const { message } = error;
  const code = /no such|not found/i.test(message)
    ? 'ENOENT'
    : /permission|denied/i.test(message)
      ? 'EACCES'
      : /lock|busy|temporarily unavailable/i.test(message)
        ? 'EBUSY'
        : '';
  return deviceFault(Object.assign(new Error(message), { code }), 'printer', device, 'dialout');
};

/** One opening of the port, until it closes. */
const createSession = (port: Port, options: SerialOptions, attempts: Attempts, heard: (said: PrinterSaid) => void) => {
  const { timing, flow } = options;
  let queue: Uint8Array[] = [];
  let writing = false;
  let draining = false;
  let unsent = false;
  let held = false;
  let over = false;
  let stopLook: Undo = () => {};

  const end = (error: unknown) => {
    if (over) return;
    over = true;
    stopLook();
    port.close(() => {});
    attempts.lost(error);
  };
  const drain = () => {
    if (draining) return;
    draining = true;
    port.drain(error => {
      draining = false;
      if (over) return;
      if (error) return end(error);
      if (writing || queue.length > 0) return;
      unsent = false;
      heard({ kind: 'drained' });
    });
  };
  const pump = () => {
    if (writing || over) return;
    const [bytes] = queue;
    if (!bytes) {
      if (unsent) drain();
      return;
    }
    writing = true;
    queue = queue.slice(1);
    port.write(bytes, error => {
      writing = false;
      if (error) end(error);
      else pump();
    });
  };
  const look = () => {
    if (over || flow !== 'rtscts') return;
    port.get((error, lines) => {
      if (over || error || !lines) return;
      const now = !lines.cts;
      if (now !== held) heard({ kind: 'held', held: now });
      held = now;
      stopLook();
      if (held || unsent) stopLook = timing.after(lookUs, look);
    });
  };

  port.on('data', bytes => over || heard({ kind: 'bytes', bytes }));
  port.on('error', end);
  port.on('close', error => end(error ?? new Error('the port closed')));
  look();
  return {
    write(bytes: Uint8Array) {
      if (over) return;
      // The caller may use its bytes again; the port writes later.
      queue.push(bytes.slice());
      if (!unsent) {
        unsent = true;
        look();
      }
      pump();
    },
    discard() {
      if (over) return;
      queue = [];
      port.flush(() => {});
    },
    close() {
      if (over) return;
      over = true;
      stopLook();
      // What lies in the kernel's buffer would hold up the closing for as long as the printer holds.
      port.flush(() => port.close(() => {}));
    },
  };
};

/**
 * A serial printer. XON and XOFF are obeyed by the kernel, never sent: they would get among the picture's bytes. RTS and
 * CTS are the kernel's too; `held` only says what CTS is.
 */
export const createSerialPrinter = (options: SerialOptions): Printer => {
  const { device, baud, flow, timing, createPort } = options;
  let session: ReturnType<typeof createSession> | null = null;

  return {
    open(heard) {
      let stopped = false;
      const attempts = createAttempts(timing, tryOpen, said => {
        if (said.kind === 'lost') session = null;
        heard(said);
      });
      function tryOpen() {
        let port: Port;
        try {
          port = createPort({
            path: device,
            baudRate: baud,
            autoOpen: false,
            rtscts: flow === 'rtscts',
            xon: flow === 'xonxoff',
            xoff: false,
          });
        } catch (error) {
          attempts.lost(error);
          return;
        }
        port.open(error => {
          if (error) return attempts.lost(openFault(error, device));
          if (stopped) return port.close(() => {});
          session = createSession(port, options, attempts, said => stopped || heard(said));
          attempts.found();
        });
      }
      return () => {
        stopped = true;
        attempts.stop();
        session?.close();
        session = null;
      };
    },
    write: bytes => session?.write(bytes),
    discard: () => session?.discard(),
  };
};
