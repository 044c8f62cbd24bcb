import type { Decoder } from './decoder.ts';

/** The receive buffer: what doesn't fit is lost. */
export interface ReceiveBuffer {
  readonly stored: number;
  readonly free: number;
  readonly peak: number;
  /** Stores what fits; returns how many bytes were lost. */
  put(bytes: Uint8Array, from: number, to: number): number;
  /** Gives the stored bytes, stretch by stretch, to `take`, which returns up to where it took; stops when it stops short. */
  drain(take: (bytes: Uint8Array, from: number, to: number) => number, goOn: () => boolean): void;
  clear(): void;
}

export const createReceiveBuffer = (sizeBytes: number): ReceiveBuffer => {
  const ring = new Uint8Array(sizeBytes);
  let first = 0;
  let stored = 0;
  let peak = 0;
  return {
    get stored() {
      return stored;
    },
    get free() {
      return sizeBytes - stored;
    },
    get peak() {
      return peak;
    },
    put(bytes, from, to) {
      const fits = Math.min(to - from, sizeBytes - stored);
      let at = (first + stored) % sizeBytes;
      for (let i = from; i < from + fits; i++) {
        ring[at] = bytes[i];
        if (++at === sizeBytes) at = 0;
      }
      stored += fits;
      if (stored > peak) peak = stored;
      return to - from - fits;
    },
    drain(take, goOn) {
      while (stored > 0 && goOn()) {
        const end = Math.min(sizeBytes, first + stored);
        const to = take(ring, first, end);
        stored -= to - first;
        first = to === sizeBytes ? 0 : to;
      }
    },
    clear() {
      first = 0;
      stored = 0;
    },
  };
};

/**
 * Watches what arrives for `10 04 n` and says n: wherever it stands, as clones do, or, with a `scout` that follows the
 * commands, only where it is one.
 */
export const createAskScanner = (asked: (n: number) => void, scout: Decoder | null) => {
  let before = 0;
  let last = 0;
  return {
    scan(bytes: Uint8Array, from: number, to: number): void {
      for (let i = from; i < to; i++) {
        const byte = bytes[i];
        const known = scout?.counts.commands;
        scout?.take(bytes, i, i + 1);
        const isAsked = last === 0x04 && before === 0x10 && byte >= 1 && byte <= 4;
        if (isAsked && (!scout || scout.counts.commands !== known)) asked(byte);
        before = last;
        last = byte;
      }
    },
    reset(): void {
      before = last = 0;
      scout?.reset();
    },
  };
};

/** Indices in `bytes` at which a `10 04 n` may end, the two bytes before them unknown. */
const mayAskAt = (bytes: Uint8Array): number[] => {
  const found: number[] = [];
  const isN = (byte: number) => byte >= 1 && byte <= 4;
  if (bytes.length > 0 && isN(bytes[0])) found.push(0);
  if (bytes.length > 1 && bytes[0] === 0x04 && isN(bytes[1])) found.push(1);
  for (let i = bytes.indexOf(0x10); i >= 0 && i + 2 < bytes.length; i = bytes.indexOf(0x10, i + 1))
    if (bytes[i + 1] === 0x04 && isN(bytes[i + 2])) found.push(i + 2);
  return found;
};

/** Keeps in mind where among the bytes on their way a status question may end. */
export const createAskWatch = () => {
  let written = 0;
  let places: number[] = [];
  return {
    add(bytes: Uint8Array): void {
      for (const at of mayAskAt(bytes)) places.push(written + at);
      written += bytes.length;
    },
    /** The last `count` bytes were taken back. */
    drop(count: number): void {
      written -= count;
      places = places.filter(at => at < written);
    },
    /** How many of the `queued` bytes until the next such place; Infinity when there is none. */
    next(queued: number): number {
      const arrived = written - queued;
      while (places.length > 0 && places[0] < arrived) places.shift();
      return places.length > 0 ? places[0] + 1 - arrived : Number.POSITIVE_INFINITY;
    },
  };
};
