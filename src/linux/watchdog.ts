import { closeSync, openSync, writeSync } from 'node:fs';
import { ior } from './ioctl.ts';
import { deviceFault, findLibc } from './native.ts';

export interface HardwareWatchdog {
  /** Ends the watch in good order: the board isn't reset. */
  close(): void;
}

/** `linux/watchdog.h` */
const getTimeout = ior('W', 7, 4);
const usualTimeoutS = 10;

/**
 * Feeds the board's watchdog from the event loop: should that stand still, the board is reset. Closing writes the letter
 * by which the driver knows that it was meant.
 */
export const createHardwareWatchdog = (device: string): HardwareWatchdog => {
  if (device === '') return { close() {} };
  let fd: number;
  try {
    fd = openSync(device, 'w');
  } catch (error) {
    throw deviceFault(error, 'watchdog', device, 'root');
  }
  const timeout = new Int32Array(1);
  try {
    findLibc()?.ioctl(fd, getTimeout, new Uint8Array(timeout.buffer));
  } catch {
    // A driver that doesn't say.
  }
  const feed = () => void writeSync(fd, '\0');
  feed();
  const timer = setInterval(feed, ((timeout[0] || usualTimeoutS) * 1000) / 3);
  timer.unref();
  return {
    close() {
      clearInterval(timer);
      writeSync(fd, 'V');
      closeSync(fd);
    },
  };
};
