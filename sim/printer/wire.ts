/** Bytes of one stretch that arrived one after the other: byte `from + i` at `firstAtUs + i * byteUs`. */
type Arrival = (bytes: Uint8Array, from: number, to: number, firstAtUs: number) => void;

/** The host's end of the wire to the printer: a queue that leaves at the wire's pace, reckoned instead of ticked. */
export interface Wire {
  readonly byteUs: number;
  write(bytes: Uint8Array, nowUs: number): void;
  /** Drops what can still be dropped: not the byte on the wire, nor what lies in the sending chip. */
  discard(): void;
  /** Everything is gone, the byte on the wire too. */
  cut(): void;
  /** Hands over what has arrived by now, at most `most` bytes, in stretches; says how many. */
  arrive(nowUs: number, most: number, arrival: Arrival): number;
  /** When the `count`th byte from now on will have arrived; Infinity if it isn't on its way. */
  dueUs(count: number): number;
  /** Stops after what lies in the sending chip; goes on. */
  hold(): void;
  release(nowUs: number): void;
  /** The next byte can't leave before now (its last try was refused). */
  postpone(nowUs: number): void;
  /** Bytes that haven't arrived. */
  readonly queued: number;
}

/** 8N1: a start bit, eight of data, one of stop. */
const bitsAByte = 10;

export const byteUsAt = (baud: number): number => (bitsAByte * 1e6) / baud;

/** Less than this is no time at all: it takes the edge off sums of fractions. */
const hairUs = 1e-3;

export const createWire = (byteUs: number, chipBytes: number): Wire => {
  let chunks: Uint8Array[] = [];
  /** First chunk that isn't done, and the first byte of it. */
  let first = 0;
  let offset = 0;
  let queued = 0;
  /**
   * Bytes have been leaving one after the other since this whole microsecond, and so many have arrived since: times
   * are reckoned from here, so that they stay exact however long the party lasts.
   */
  let sinceUs = 0;
  let gone = 0;
  /** How many may still leave while the other end wants a stop. */
  let allowed = Number.POSITIVE_INFINITY;

  const startOver = (nowUs: number) => {
    sinceUs = nowUs;
    gone = 0;
  };
  const inChip = () => Math.min(queued, 1 + chipBytes);
  const clear = () => {
    chunks = [];
    first = 0;
    offset = 0;
    queued = 0;
  };

  return {
    byteUs,
    write(bytes, nowUs) {
      if (bytes.length === 0) return;
      if (queued === 0) startOver(nowUs);
      chunks.push(bytes.slice());
      queued += bytes.length;
    },
    discard() {
      const rest = new Uint8Array(allowed > 0 ? inChip() : 0);
      let filled = 0;
      for (let i = first; i < chunks.length && filled < rest.length; i++) {
        const part = chunks[i].subarray(i === first ? offset : 0).subarray(0, rest.length - filled);
        rest.set(part, filled);
        filled += part.length;
      }
      clear();
      if (filled > 0) chunks.push(rest);
      queued = filled;
    },
    cut() {
      clear();
      allowed = Number.POSITIVE_INFINITY;
    },
    arrive(nowUs, most, arrival) {
      const byNow = Math.floor((nowUs - sinceUs + hairUs) / byteUs) - gone;
      const count = Math.max(0, Math.min(byNow, queued, allowed, most));
      for (let todo = count; todo > 0; ) {
        const chunk = chunks[first];
        const from = offset;
        const to = Math.min(chunk.length, from + todo);
        const firstAtUs = sinceUs + (gone + 1) * byteUs;
        todo -= to - from;
        gone += to - from;
        queued -= to - from;
        allowed -= to - from;
        offset = to;
        if (offset === chunk.length) {
          first++;
          offset = 0;
        }
        arrival(chunk, from, to, firstAtUs);
      }
      if (first > 64) {
        chunks = chunks.slice(first);
        first = 0;
      }
      return count;
    },
    dueUs(count) {
      if (count > Math.min(queued, allowed)) return Number.POSITIVE_INFINITY;
      return sinceUs + Math.ceil((gone + count) * byteUs - hairUs);
    },
    hold() {
      if (allowed === Number.POSITIVE_INFINITY) allowed = inChip();
    },
    release(nowUs) {
      if (allowed === 0) startOver(nowUs);
      allowed = Number.POSITIVE_INFINITY;
    },
    postpone: startOver,
    get queued() {
      return queued;
    },
  };
};
