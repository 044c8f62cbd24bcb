import { closeSync, constants, openSync, readSync, rmSync, symlinkSync, writeSync } from 'node:fs';
import koffi from 'koffi';

const libc = koffi.load(null);
const grantpt = libc.func('int grantpt(int)');
const unlockpt = libc.func('int unlockpt(int)');
const ptsname = libc.func('str ptsname(int)');

/**
 * A serial port without hardware: the near end is a terminal under a name that stays, the far end is ours. Plugging makes
 * it anew, unplugging hangs it up, as by a USB adapter.
 */
export const createPty = (name: string) => {
  let fd: number | null = null;
  let received = Buffer.alloc(0);
  const buffer = Buffer.alloc(65_536);
  const drain = () => {
    if (fd === null) return;
    try {
      for (let length = readSync(fd, buffer); length > 0; length = readSync(fd, buffer))
        received = Buffer.concat([received, buffer.subarray(0, length)]);
    } catch {
      // Nothing there; or nobody has the near end open.
    }
  };
  const plug = () => {
    if (fd !== null) return;
    fd = openSync('/dev/pts/ptmx', constants.O_RDWR | constants.O_NOCTTY | constants.O_NONBLOCK);
    grantpt(fd);
    unlockpt(fd);
    rmSync(name, { force: true });
    symlinkSync(ptsname(fd), name);
  };
  const unplug = () => {
    if (fd === null) return;
    drain();
    closeSync(fd);
    fd = null;
    rmSync(name, { force: true });
  };
  plug();
  const reading = setInterval(drain, 5);
  return {
    name,
    plug,
    unplug,
    received: () => {
      drain();
      return received;
    },
    answer(bytes: Uint8Array) {
      if (fd !== null) writeSync(fd, bytes);
    },
    done() {
      clearInterval(reading);
      unplug();
    },
  };
};
