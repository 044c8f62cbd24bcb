import type { Undo } from '../parts/clock.ts';
import { findLibc, optionalPackage, pollError, pollHangUp, pollIn, pollOut, pollPri } from './native.ts';

/** The `epoll` package: one thread of its own that waits for all of them. */
interface EpollPackage {
  Epoll: {
    new (heard: (error: Error | null, fd: number, events: number) => void): Poller;
  };
}
interface Poller {
  add(fd: number, events: number): void;
  remove(fd: number): void;
  close(): void;
}

export type FdEvents = 'in' | 'out' | 'pri';
// The bits of poll(2) and epoll(7) are the same.
const bits: Record<FdEvents, number> = { in: pollIn, out: pollOut, pri: pollPri };

export interface FdWatchOptions {
  /** Where `epoll` isn't to be had, the file is asked this often, in milliseconds. */
  everyMs: number;
  /** Tests choose the fallback. */
  epoll?: EpollPackage | null;
}

let found: EpollPackage | null | undefined;
const findEpoll = (): EpollPackage | null => {
  if (found === undefined) found = optionalPackage<EpollPackage>('epoll');
  return found;
};

/**
 * Calls `ready` while the file has what is waited for (level-triggered), or has hung up or failed; never inside this
 * call. A call may be spurious: read without blocking.
 */
export const watchFd = (fd: number, what: FdEvents, ready: (gone: boolean) => void, options: FdWatchOptions): Undo => {
  const { everyMs, epoll = findEpoll() } = options;
  let open = true;
  const tell = (events: number) => {
    if (open) ready((events & (pollError | pollHangUp)) !== 0);
  };
  if (epoll) {
    const poller = new epoll.Epoll((error, _, events) => tell(error ? pollError : events));
    poller.add(fd, bits[what]);
    return () => {
      if (!open) return;
      open = false;
      poller.remove(fd);
      // Its callback may be what runs now; the package frees it on close.
      setImmediate(() => poller.close());
    };
  }
  const libc = findLibc();
  const timer = setInterval(() => {
    const events = libc ? libc.ready(fd, bits[what]) : bits[what];
    if (events !== 0) tell(events);
  }, everyMs);
  return () => {
    open = false;
    clearInterval(timer);
  };
};
