import type { PrinterCondition } from '../parts/engine.ts';
import type { StatusAsk } from './language.ts';

/** What a printer says of itself, from whichever way of status it knows; groups that it hasn't answered yet are false. */
export interface StatusFlags {
  offLine: boolean;
  lidOpen: boolean;
  /** Its own feed button is held. */
  feeding: boolean;
  /** Print stopped by the end of the paper. */
  paperStop: boolean;
  /** Any error, its kind unknown. */
  error: boolean;
  cutter: boolean;
  unrecoverable: boolean;
  /** An error that passes by itself: the head is too hot. */
  recovers: boolean;
  nearEnd: boolean;
  paperEnd: boolean;
}

export const quietFlags: StatusFlags = {
  offLine: false,
  lidOpen: false,
  feeding: false,
  paperStop: false,
  error: false,
  cutter: false,
  unrecoverable: false,
  recovers: false,
  nearEnd: false,
  paperEnd: false,
};

/** What flags mean for printing; being off line has its own name only where nothing else explains it. */
export const conditionOf = (flags: StatusFlags, lost: boolean): PrinterCondition => {
  const paperOut = flags.paperEnd || flags.paperStop;
  const headHot = flags.recovers;
  const broken = flags.cutter || flags.unrecoverable;
  const explained = paperOut || flags.lidOpen || headHot;
  return {
    lost,
    paperOut,
    lidOpen: flags.lidOpen,
    headHot,
    offLine: broken || ((flags.offLine || flags.error) && !explained),
    nearEnd: flags.nearEnd,
  };
};

/** Whether nothing can be printed now. */
export const blocks = (c: PrinterCondition): boolean => c.lost || c.paperOut || c.lidOpen || c.headHot || c.offLine;

export const sameCondition = (a: PrinterCondition, b: PrinterCondition): boolean =>
  (Object.keys(a) as (keyof PrinterCondition)[]).every(key => a[key] === b[key]);

const bit = (byte: number, mask: number): boolean => (byte & mask) !== 0;

/** The flags that the answer to `10 04 n` speaks of. */
export const answerFlags = (ask: StatusAsk, byte: number): Partial<StatusFlags> => {
  switch (ask) {
    case 1:
      return { offLine: bit(byte, 0x08) };
    case 2:
      return {
        lidOpen: bit(byte, 0x04),
        feeding: bit(byte, 0x08),
        paperStop: bit(byte, 0x20),
        error: bit(byte, 0x40),
      };
    case 3:
      return { cutter: bit(byte, 0x08), unrecoverable: bit(byte, 0x20), recovers: bit(byte, 0x40) };
    case 4:
      return { nearEnd: bit(byte, 0x0c), paperEnd: bit(byte, 0x60) };
  }
};

/** The flags of the four bytes of the automatic status: all of them. */
export const automaticFlags = (first: number, second: number, third: number): StatusFlags => ({
  offLine: bit(first, 0x08),
  lidOpen: bit(first, 0x20),
  feeding: bit(first, 0x40),
  paperStop: false,
  error: false,
  cutter: bit(second, 0x08),
  unrecoverable: bit(second, 0x20),
  recovers: bit(second, 0x40),
  nearEnd: bit(third, 0x03),
  paperEnd: bit(third, 0x0c),
});

export type StatusSaid =
  | { kind: 'go' }
  | { kind: 'stop' }
  /** One byte for one `10 04 n`; which n, only the asker knows. */
  | { kind: 'answer'; byte: number }
  | { kind: 'automatic'; flags: StatusFlags };

export interface StatusDecoder {
  /** Reads what arrived, in pieces of any size; bytes that make no sense are dropped and counted. */
  take(bytes: Uint8Array): void;
  /** Forgets a half-heard automatic status. */
  reset(): void;
  readonly garbage: number;
}

const xon = 0x11;
const xoff = 0x13;
const classMask = 0x93;

/**
 * Sorts bytes by their fixed bits, as manuals lay them down: `byte & 93` is `10` for the first byte of an automatic
 * status, `12` for an answer; the second to fourth byte have bits 4 and 7 clear, and only XON and XOFF come between.
 */
export const createStatusDecoder = (heard: (said: StatusSaid) => void): StatusDecoder => {
  const four = [0, 0, 0, 0];
  let have = 0;
  let garbage = 0;

  const one = (byte: number) => {
    if (byte === xon) return heard({ kind: 'go' });
    if (byte === xoff) return heard({ kind: 'stop' });
    if (have > 0 && (byte & 0x90) === 0) {
      four[have++] = byte;
      if (have < 4) return;
      have = 0;
      return heard({ kind: 'automatic', flags: automaticFlags(four[0], four[1], four[2]) });
    }
    garbage += have;
    have = 0;
    if ((byte & classMask) === 0x10) four[have++] = byte;
    else if ((byte & classMask) === 0x12) heard({ kind: 'answer', byte });
    else garbage++;
  };

  return {
    take(bytes) {
      for (const byte of bytes) one(byte);
    },
    reset() {
      have = 0;
    },
    get garbage() {
      return garbage;
    },
  };
};
