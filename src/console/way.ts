import { closeSync, constants, fstatSync, openSync, writeSync } from 'node:fs';
import type { Way } from './outlet.ts';

const systemError = (code: string): NodeJS.ErrnoException => Object.assign(new Error(code), { code });

/**
 * A terminal, a pipe or a file, opened anew so that it can be made non-blocking for us alone: the same open file of a
 * shell or a service manager stays as it is.
 */
const reopened = (path: string): Way => {
  const flags = constants.O_WRONLY | constants.O_APPEND | constants.O_NONBLOCK | constants.O_NOCTTY;
  let fd: number | null = null;
  const shut = () => {
    const was = fd;
    fd = null;
    if (was !== null) closeSync(was);
  };
  const way: Way = {
    write(bytes) {
      if (fd === null) throw systemError('EBADF');
      return writeSync(fd, bytes);
    },
    reopen() {
      shut();
      fd = openSync(path, flags);
    },
    close: shut,
  };
  try {
    way.reopen();
  } catch {
    // As if it had been lost: the outlet tries again.
  }
  return way;
};

/** Bytes handed to a stream that haven't left it. */
const mostUnderWay = 16_384;

/** A socket can't be opened anew; Node's own stream never waits, and says when it is gone. */
const overSocket = (fd: number): Way => {
  // Loaded only where it is needed: each module costs time at the start.
  const { Socket } = process.getBuiltinModule('node:net');
  const socket = new Socket({ fd, readable: false, writable: true });
  let broken = false;
  socket.on('error', () => {
    broken = true;
  });
  socket.unref();
  return {
    write(bytes) {
      if (broken || socket.destroyed) throw systemError('EPIPE');
      if (socket.writableLength > mostUnderWay) throw systemError('EAGAIN');
      socket.write(bytes);
      return bytes.length;
    },
    reopen() {
      throw systemError('ENXIO');
    },
    close() {},
  };
};

const isSocket = (fd: number): boolean => {
  try {
    return fstatSync(fd).isSocket();
  } catch {
    return false;
  }
};

/** The way out by an open file descriptor, standard output if none is named. It never blocks, whatever hangs on it. */
export const openWay = (fd = 1): Way => (isSocket(fd) ? overSocket(fd) : reopened(`/proc/self/fd/${fd}`));
