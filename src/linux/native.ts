import { createRequire } from 'node:module';
import { constants } from 'node:os';
import { Fault } from '../parts/fault.ts';

// EWOULDBLOCK is another name of EAGAIN, the one that node uses.
const errnoName = (errno: number): string | undefined =>
  Object.entries(constants.errno).find(([name, number]) => number === errno && name !== 'EWOULDBLOCK')?.[0];

/** A native package, or null where it isn't installed: npm leaves out silently what it can't build. */
export const optionalPackage = <T>(name: string): T | null => {
  try {
    return createRequire(import.meta.url)(name) as T;
  } catch {
    return null;
  }
};

/** What is called of the C library. A failure is thrown as an error with `code`, like those of `node:fs`. */
export interface Libc {
  ioctl(fd: number, request: number, argument: Uint8Array): number;
  /** The same on a thread of the pool, for one that may wait for its device: whether it went well. */
  ioctlLater(fd: number, request: number, argument: Uint8Array, done: (well: boolean) => void): void;
  /** Returns at once: the events that are there now. */
  ready(fd: number, events: number): number;
  dup(fd: number): number;
  /** Maps a device's buffer for reading; the bytes are the device's own. */
  map(fd: number, lengthBytes: number, offset: number): { bytes: Uint8Array; unmap(): void };
  /** One datagram to a unix socket address as in unix(7). */
  sendTo(address: Uint8Array, bytes: Uint8Array): void;
}

export const pollIn = 1;
export const pollPri = 2;
export const pollOut = 4;
export const pollError = 8;
export const pollHangUp = 16;

const mapShared = 1;
const protRead = 1;
const protWrite = 2;
const afUnix = 1;
const sockDatagram = 2;
const sockCloseOnExec = 0o2000000;

const bind = (koffi: typeof import('koffi')): Libc => {
  const library = koffi.load(null);
  const ioctl = library.func('int ioctl(int, unsigned long, void *)');
  const poll = library.func('int poll(void *, unsigned long, int)');
  const dup = library.func('int dup(int)');
  const close = library.func('int close(int)');
  const mmap = library.func('void *mmap(void *, size_t, int, int, int, long)');
  const munmap = library.func('int munmap(void *, size_t)');
  const socket = library.func('int socket(int, int, int)');
  const sendto = library.func('long sendto(int, void *, size_t, int, void *, unsigned int)');
  const pollRecord = new DataView(new ArrayBuffer(8));
  const pollBytes = new Uint8Array(pollRecord.buffer);
  const littleEndian = new Uint8Array(new Uint16Array([1]).buffer)[0] === 1;

  const fail = (call: string): never => {
    const errno = koffi.errno();
    const code = errnoName(errno) ?? `errno ${errno}`;
    throw Object.assign(new Error(`${call}: ${code}`), { code, errno: -errno, syscall: call });
  };
  const checked = (call: string, result: number): number => (result < 0 ? fail(call) : result);

  return {
    ioctl: (fd, request, argument) => checked('ioctl', ioctl(fd, request, argument)),
    ioctlLater: (fd, request, argument, done) =>
      ioctl.async(fd, request, argument, (error: unknown, result: number) => done(!error && result >= 0)),
    ready(fd, events) {
      pollRecord.setInt32(0, fd, littleEndian);
      pollRecord.setInt16(4, events, littleEndian);
      pollRecord.setInt16(6, 0, littleEndian);
      checked('poll', poll(pollBytes, 1, 0));
      return pollRecord.getInt16(6, littleEndian);
    },
    dup: fd => checked('dup', dup(fd)),
    map(fd, lengthBytes, offset) {
      const address: bigint | null = mmap(null, lengthBytes, protRead | protWrite, mapShared, fd, offset);
      // MAP_FAILED is -1.
      if (address === null || BigInt.asIntN(64, BigInt(address)) === -1n) return fail('mmap');
      return {
        bytes: new Uint8Array(koffi.view(address, lengthBytes)),
        unmap: () => void munmap(address, lengthBytes),
      };
    },
    sendTo(address, bytes) {
      const fd = checked('socket', socket(afUnix, sockDatagram | sockCloseOnExec, 0));
      try {
        checked('sendto', Number(sendto(fd, bytes, bytes.length, 0, address, address.length)));
      } finally {
        close(fd);
      }
    },
  };
};

let libc: Libc | null | undefined;

/** The C library by way of `koffi`, loaded when it is first asked for; null where `koffi` isn't installed. */
export const findLibc = (): Libc | null => {
  if (libc === undefined) {
    const koffi = optionalPackage<typeof import('koffi')>('koffi');
    libc = koffi && bind(koffi);
  }
  return libc;
};

/** The same for parts that can't do without. */
export const needLibc = (what: string): Libc => {
  const found = findLibc();
  if (found) return found;
  throw new Fault(
    'part-missing',
    `${what} needs the package 'koffi', which isn't installed or doesn't load on this board`,
    'npm install koffi; it has builds for 64-bit ARM and x86 and for ARMv7 with glibc 2.34 or newer',
  );
};

export const codeOf = (error: unknown): string => String((error as NodeJS.ErrnoException)?.code ?? '');

/** A failed open or ioctl as a person needs it. `group`: whose members may use the device. */
export const deviceFault = (error: unknown, what: string, path: string, group: string): Fault => {
  const code = codeOf(error);
  const cause = { cause: error };
  if (code === 'ENOENT' || code === 'ENODEV' || code === 'ENXIO')
    return new Fault('part-missing', `${what}: ${path} isn't there`, 'is it plugged in, and named so?', cause);
  if (code === 'EACCES' || code === 'EPERM')
    return new Fault(
      'part-denied',
      `${what}: no permission for ${path}`,
      `add the user to the group that owns it (mostly '${group}'), or install the udev rules of systemd/`,
      cause,
    );
  if (code === 'EBUSY')
    return new Fault('part-busy', `${what}: ${path} is in use by another program`, 'end the other one first', cause);
  return new Fault('part-failed', `${what}: ${path}: ${(error as Error).message}`, 'see the kernel log', cause);
};
