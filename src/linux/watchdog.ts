import { closeSync, constants, openSync, writeSync } from 'node:fs';
import { ior } from './ioctl.ts';
import { codeOf, deviceFault, findLibc } from './native.ts';

export interface HardwareWatchdog {
  /** Ends the watch in good order: the board isn't reset. */
  close(): void;
}

/** `linux/watchdog.h` */
const getTimeout = ior('W', 7, 4);
const usualTimeoutS = 10;

const none: HardwareWatchdog = { close() {} };

/**
 * Feeds the board's watchdog from the event loop: should that stand still, the board is reset. Closing writes the letter
 * by which the driver knows that it was meant. A watchdog that can't be had is no reason to take no pictures.
 * @param note Hears, once, why it can't be opened or fed.
 */
export const createHardwareWatchdog = (device: string, note: (why: string) => void): HardwareWatchdog => {
  if (device === '') return none;
  let fd: number;
  try {
    fd = openSync(device, constants.O_WRONLY);
  } catch (error) {
    const { message, mend } = deviceFault(error, 'watchdog', device, 'slipshutter');
    note(`${message} (${mend})`);
    return none;
  }
  const timeout = new Int32Array(1);
  try {
    findLibc()?.ioctl(fd, getTimeout, new Uint8Array(timeout.buffer));
  } catch {
    // A driver that doesn't say.
  }
  let fed = true;
  const write = (letter: string) => {
    try {
      writeSync(fd, letter);
      fed = true;
    } catch (error) {
      if (fed) note(`watchdog: ${device} can't be fed (${codeOf(error)})`);
      fed = false;
    }
  };
  write('\0');
  const timer = setInterval(() => write('\0'), ((timeout[0] || usualTimeoutS) * 1000) / 3);
  timer.unref();
  return {
    close() {
      clearInterval(timer);
      write('V');
      closeSync(fd);
    },
  };
};
