import { closeSync, constants, fstatSync, openSync, write, writeSync } from 'node:fs';
import type { Socket } from 'node:net';
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

/** So long what was said last may take to go out at the end. */
const longestEndMs = 1000;

const openSocket = (fd: number): Socket => {
  // Loaded only where it is needed: each module costs time at the start.
  const { Socket } = process.getBuiltinModule('node:net');
  return new Socket({ fd, readable: false, writable: true }).on('error', () => {}).unref();
};

/**
 * A socket can't be opened anew. At first a thread of the pool writes for us, one line after the other; then Node's own
 * stream, which needs no thread, and says when the socket is gone. Neither makes us wait.
 */
const overSocket = (fd: number, streamAfterMs: number): Way => {
  let stream: Socket | null = null;
  let broken = false;
  let ripe = false;
  const lines: Uint8Array[] = [];
  let waitingBytes = 0;

  const openStream = () => {
    const opened = openSocket(fd).on('error', () => {
      broken = true;
    });
    for (const line of lines.splice(0)) opened.write(line);
    stream = opened;
  };
  const ripen = setTimeout(() => {
    ripe = true;
    if (lines.length === 0) openStream();
  }, streamAfterMs);
  ripen.unref();
  const pump = () =>
    write(fd, lines[0], (error, took) => {
      if (error && error.code !== 'EAGAIN' && error.code !== 'EINTR') {
        broken = true;
        return;
      }
      waitingBytes -= took;
      const rest = lines[0].subarray(took);
      if (rest.length > 0) lines[0] = rest;
      else lines.shift();
      // Somebody before us made it non-blocking: the stream knows how to wait for it.
      if (ripe || error?.code === 'EAGAIN') openStream();
      else if (lines.length > 0) pump();
    });

  return {
    write(bytes) {
      if (broken || stream?.destroyed) throw systemError('EPIPE');
      if ((stream ? stream.writableLength : waitingBytes) > mostUnderWay) throw systemError('EAGAIN');
      if (stream) stream.write(bytes);
      else {
        lines.push(bytes);
        waitingBytes += bytes.length;
        if (lines.length === 1) pump();
      }
      return bytes.length;
    },
    reopen() {
      throw systemError('ENXIO');
    },
    close() {
      clearTimeout(ripen);
      if (lines.length === 0 || broken) return;
      // A thread that is held up by a full socket would hold up the end of the program: shutting the socket lets it go.
      const shut = () => {
        if (lines.length > 0 && !broken) openSocket(fd).end();
      };
      setTimeout(shut, longestEndMs).unref();
    },
  };
};

const isSocket = (fd: number): boolean => {
  try {
    return fstatSync(fd).isSocket();
  } catch {
    return false;
  }
};

/**
 * The way out by an open file descriptor, standard output if none is named. It never blocks, whatever hangs on it. Node's
 * stream for sockets is loaded after `streamAfterMs`: that takes longer than all lines of a start together.
 */
export const openWay = (fd = 1, streamAfterMs = 1000): Way =>
  isSocket(fd) ? overSocket(fd, streamAfterMs) : reopened(`/proc/self/fd/${fd}`);
