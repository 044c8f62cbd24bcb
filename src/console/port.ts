import { execFileSync } from 'node:child_process';
import { statSync } from 'node:fs';
import { noticeHangup } from '../linux/port-hangup.ts';
import { Fault } from '../parts/fault.ts';

export interface PortOptions {
  path: string;
  baud: number;
  signal: AbortSignal;
  heard(bytes: Uint8Array): void;
  /** The port went or came back. */
  told(what: 'open' | 'lost', why: string): void;
  /** From one try to have it again to the next. */
  againMs?: number;
}

/** How the port was set, in stty's own form; null where that can't be had. */
const settingsOf = (path: string): string | null => {
  try {
    return execFileSync('stty', ['-F', path, '-g'], { encoding: 'utf8', stdio: ['ignore', 'pipe', 'ignore'] }).trim();
  } catch {
    return null;
  }
};
/** Which device has this name now: another one may have it after a reconnect. */
const deviceOf = (path: string): string | null => {
  try {
    const { dev, ino, rdev } = statSync(path);
    return `${dev} ${ino} ${rdev}`;
  } catch {
    return null;
  }
};
const setBack = (path: string, settings: string | null): void => {
  if (settings === null) return;
  try {
    execFileSync('stty', ['-F', path, settings], { stdio: 'ignore' });
  } catch {
    // A port that was unplugged has nothing to be set back.
  }
};

const faultOf = (path: string, error: Error): Fault => {
  const { message } = error;
  if (/permission|denied/i.test(message))
    return new Fault('part-denied', `${path}: you may not open it`, 'join the group dialout, or whichever owns it');
  if (/lock|busy|temporarily unavailable/i.test(message))
    return new Fault('part-busy', `${path} is in use`, 'end the program that has it open');
  return new Fault('part-failed', `${path}: ${message}`, 'check the path and the speed');
};

/**
 * Listens to a serial port until aborted, opens it again whenever it comes back, and leaves it set as it was. Rejects
 * with a `Fault` when it can't be opened the first time.
 */
export const followPort = async ({ path, baud, signal, heard, told, againMs = 1000 }: PortOptions): Promise<void> => {
  const { SerialPort } = await import('serialport').catch(error => {
    throw new Fault(
      'part-missing',
      "a serial port needs the package 'serialport', which isn’t installed or doesn’t load here",
      'npm install serialport; a file or a pipe can be listened to without it',
      { cause: error },
    );
  });
  let opened = false;
  const first: { device: string | null; settings: string | null } = { device: null, settings: null };
  /** How the device that has this name now was set before it was first opened here. */
  const look = () => {
    const device = deviceOf(path);
    if (device === null || device === first.device) return;
    first.device = device;
    first.settings = settingsOf(path);
  };
  const leaveAsItWas = () => {
    if (first.device === deviceOf(path)) setBack(path, first.settings);
  };

  /** One opening, until the port goes or the listener does. */
  const session = (): Promise<void> =>
    new Promise((resolve, reject) => {
      look();
      const port = noticeHangup(new SerialPort({ path, baudRate: baud, autoOpen: false }));
      const abort = () => port.close(() => {});
      const over = (act: () => void) => {
        signal.removeEventListener('abort', abort);
        act();
      };
      port.open(error => {
        if (error) return over(() => reject(faultOf(path, error)));
        opened = true;
        told('open', '');
        if (signal.aborted) abort();
        else signal.addEventListener('abort', abort, { once: true });
      });
      port.on('data', heard);
      port.on('error', () => {});
      port.on('close', (error: Error | null) => {
        if (!signal.aborted) told('lost', error?.message ?? 'the port closed');
        over(resolve);
      });
    });
  const pause = () =>
    new Promise<void>(resolve => {
      const timer = setTimeout(done, againMs);
      function done() {
        clearTimeout(timer);
        signal.removeEventListener('abort', done);
        resolve();
      }
      signal.addEventListener('abort', done, { once: true });
    });

  // Also where the program is ended at once, as by a reader of its output that has seen enough.
  process.once('exit', leaveAsItWas);
  try {
    while (!signal.aborted) {
      try {
        await session();
      } catch (error) {
        if (!opened) throw error;
      }
      if (!signal.aborted) await pause();
    }
  } finally {
    process.off('exit', leaveAsItWas);
    leaveAsItWas();
  }
};
