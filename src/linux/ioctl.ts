const write = 1;
const read = 2;

/** ioctl numbers as in the kernel's `asm-generic/ioctl.h` (x86, ARM, RISC-V): direction, size, letter, number. */
const number = (direction: number, letter: string, nr: number, sizeBytes: number): number =>
  ((direction << 30) | (sizeBytes << 16) | (letter.charCodeAt(0) << 8) | nr) >>> 0;

export const ior = (letter: string, nr: number, sizeBytes: number): number => number(read, letter, nr, sizeBytes);
export const iow = (letter: string, nr: number, sizeBytes: number): number => number(write, letter, nr, sizeBytes);
export const iowr = (letter: string, nr: number, sizeBytes: number): number =>
  number(read | write, letter, nr, sizeBytes);

/** Bytes up to the first zero. */
export const textAt = (bytes: Uint8Array, at: number, lengthBytes: number): string => {
  const field = bytes.subarray(at, at + lengthBytes);
  const end = field.indexOf(0);
  return new TextDecoder().decode(end < 0 ? field : field.subarray(0, end));
};
