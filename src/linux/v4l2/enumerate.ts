import type { Libc } from '../native.ts';

/** No webcam offers more of anything; a driver that never says no would go on for ever. */
const mostEntries = 256;

/** Calls with index 0, 1, 2… until the driver says that there are no more. */
export const enumerate = <T>(
  libc: Libc,
  fd: number,
  request: number,
  encode: (index: number) => Uint8Array,
  read: (bytes: Uint8Array) => T,
): T[] => {
  const found: T[] = [];
  for (let index = 0; index < mostEntries; index++) {
    const bytes = encode(index);
    try {
      libc.ioctl(fd, request, bytes);
    } catch {
      break;
    }
    found.push(read(bytes));
  }
  return found;
};
