/** Bytes of one stretch that arrived one after the other: byte `from + i` at `firstAtUs + i * byteUs`. */
export type Arrival = (bytes: Uint8Array, from: number, to: number, firstAtUs: number) => void;

/** The host's end of the wire to the printer: a queue that leaves at the wire's pace, reckoned instead of ticked. */
export interface Wire {
  readonly byteUs: number;
  write(bytes: Uint8Array, nowUs: number): void;
  /** Drops what can still be dropped: not the byte on the wire, nor what lies in the sending chip. */
  discard(nowUs: number): void;
  /** Everything is gone, the byte on the wire too. */
  cut(): void;
  /** Hands over what has arrived by now, at most `most` bytes, in stretches; says how many. */
  arrive(nowUs: number, most: number, arrival: Arrival): number;
  /** When the `count`th byte from now on will have arrived; Infinity if it isn't on its way. */
  dueUs(count: number): number;
  /** Stops after what lies in the sending chip; goes on. */
  hold(nowUs: number): void;
  release(nowUs: number): void;
  /** The next byte can't leave before now (its last try was refused). */
  postpone(nowUs: number): void;
  /** Bytes that haven't arrived. */
  readonly queued: number;
}

/** 8N1: a start bit, eight of data, one of stop. */
const bitsAByte = 10;

export const byteUsAt = (baud: number): number => (bitsAByte * 1e6) / baud;

export const createWire = (byteUs: number, chipBytes: number): Wire => {
  let chunks: Uint8Array[] = [];
  /** First chunk that isn't done, and the first byte of it. */
  let first = 0;
  let offset = 0;
  let queued = 0;
  /** When the next byte's start bit leaves. */
  let startUs = 0;
  /** How many may still leave while the other end wants a stop. */
  let allowed = Number.POSITIVE_INFINITY;

  const inChip = () => Math.min(queued, 1 + chipBytes);
  const byNow = (nowUs: number) => Math.max(0, Math.floor((nowUs - startUs + 2e-6) / byteUs));

  return {
    byteUs,
    write(bytes, nowUs) {
      if (bytes.length === 0) return;
      if (queued === 0 || allowed === 0) startUs = Math.max(startUs, nowUs);
      chunks.push(bytes.slice());
      queued += bytes.length;
    },
    discard(nowUs) {
      const kept = nowUs >= startUs && allowed > 0 ? inChip() : 0;
      const rest = new Uint8Array(kept);
      let filled = 0;
      for (let i = first; i < chunks.length && filled < kept; i++) {
        const part = chunks[i].subarray(i === first ? offset : 0).subarray(0, kept - filled);
        rest.set(part, filled);
        filled += part.length;
      }
      chunks = kept > 0 ? [rest] : [];
      first = 0;
      offset = 0;
      queued = kept;
    },
    cut() {
      chunks = [];
      first = 0;
      offset = 0;
      queued = 0;
      allowed = Number.POSITIVE_INFINITY;
    },
    arrive(nowUs, most, arrival) {
      const count = Math.min(byNow(nowUs), queued, allowed, most);
      let todo = count;
      while (todo > 0) {
        const chunk = chunks[first];
        const take = Math.min(todo, chunk.length - offset);
        const from = offset;
        const firstAtUs = startUs + byteUs;
        startUs += take * byteUs;
        queued -= take;
        allowed -= take;
        todo -= take;
        offset += take;
        if (offset === chunk.length) {
          first++;
          offset = 0;
        }
        arrival(chunk, from, from + take, firstAtUs);
      }
      if (first > 64 || queued === 0) {
        chunks = chunks.slice(first);
        first = 0;
      }
      return count;
    },
    dueUs(count) {
      return count <= Math.min(queued, allowed) ? Math.ceil(startUs + count * byteUs - 1e-6) : Number.POSITIVE_INFINITY;
    },
    hold(nowUs) {
      if (allowed === Number.POSITIVE_INFINITY) allowed = nowUs >= startUs ? inChip() : 0;
    },
    release(nowUs) {
      if (allowed === 0) startUs = Math.max(startUs, nowUs);
      allowed = Number.POSITIVE_INFINITY;
    },
    postpone(nowUs) {
      startUs = Math.max(startUs, nowUs);
    },
    get queued() {
      return queued;
    },
  };
};
