import { constants } from 'node:fs';
import { createRequire } from 'node:module';

type Koffi = typeof import('koffi');

const koffi = ((): Koffi | null => {
  try {
    return createRequire(import.meta.url)('koffi') as Koffi;
  } catch {
    return null;
  }
})();

/** Why there are no pseudo terminals here; '' where there are. */
export const noPty =
  process.platform !== 'linux' ? ' (pending: only on Linux)' : koffi ? '' : ' (pending where koffi is not installed)';

export interface Pty {
  /** The far end, non-blocking. */
  masterFd: number;
  slaveFd: number;
  /** The near end: what a serial console is to a program. */
  path: string;
}

export const openPty = (): Pty => {
  if (!koffi) throw new Error('no koffi');
  const libc = koffi.load('libc.so.6');
  const openpty = libc.func('int openpty(_Out_ int *, _Out_ int *, void *, void *, void *)');
  const ttyname = libc.func('const char *ttyname(int)');
  const fcntl = libc.func('int fcntl(int, int, int)');
  const [master, slave] = [[0], [0]];
  if (openpty(master, slave, null, null, null) !== 0) throw new Error('openpty failed');
  const setFlags = 4;
  fcntl(master[0], setFlags, constants.O_NONBLOCK);
  return { masterFd: master[0], slaveFd: slave[0], path: ttyname(slave[0]) };
};
