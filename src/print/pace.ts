/** The way to the printer, and what it can hold. */
export interface Wire {
  /** Time of one byte, µs; 8N1 is ten bits. */
  byteUs: number;
  /** Bytes that may wait in the printer's receive buffer. */
  roomBytes: number;
  /** Part by which the printer may be slower than its numbers. */
  slowness: number;
  /** How long before it is needed a byte may arrive. */
  leadUs: number;
}

/** Something the printer does when it has read these bytes whole. */
export interface PacedStep {
  bytes: number;
  /** How long the mechanism is busy with it; meanwhile what arrives must wait in the buffer. */
  takesUs: number;
  /** The paper must not stand still before it: a row of dots after a row of dots. */
  unbroken: boolean;
  /** Dots are heated; else only paper moves, which may wait. */
  heats: boolean;
}

export interface Write {
  atUs: number;
  from: number;
  to: number;
}

/** Times from the first write, µs. */
export interface Schedule {
  writes: Write[];
  /** When each step begins. */
  startsUs: readonly number[];
  /** When the last byte has arrived, and when the last step is over. */
  arrivedUs: number;
  endUs: number;
  /** Steps before which the paper stands though it must not, and for how long in all. */
  starved: number;
  stoodUs: number;
}

export interface Pacer {
  add(step: PacedStep): void;
  readonly starved: number;
  readonly endUs: number;
  /** How long after the end of all that was added `bytes` more would have arrived; negative: how long before. */
  lateUs(bytes: number): number;
  schedule(): Schedule;
  /** Takes back, when called, everything that was added since `mark`. */
  mark(): () => void;
}

/** How far ahead of the wire bytes are handed over, so that a late timer leaves no gap. */
const aheadUs = 10_000;
/** A line that comes this late stretches its time and doesn't stop the motor; common practice, no source. */
const patienceUs = 150;
/** How much of that each row may use up for a printer slower than its numbers. */
const stretchUs = 100;

/**
 * When each byte is sent, so that the buffer never holds more than it can even if the printer never says stop.
 * The printer reads a step when the one before is over: while step m is busy, what was sent beyond m waits. A byte may
 * therefore arrive once a step has begun behind which there is room for it.
 *
 * With some slowness that is reckoned for a printer slower than its numbers, and bytes don't come long before they are
 * needed. One that keeps its numbers then works off what it was ahead, and from there on waits for each row, less than its
 * motor notices; its drift never adds up.
 */
export const createPacer = ({ byteUs, roomBytes, slowness, leadUs }: Wire): Pacer => {
  const startsUs: number[] = [];
  const endsUs: number[] = [];
  /** Bytes up to the end of each step. */
  const lastByte: number[] = [];
  const writes: Write[] = [];
  const smallest = Math.max(1, Math.floor(roomBytes / 8));

  let freeUs = 0;
  let endUs = 0;
  /** The same for a printer that keeps its numbers. */
  let promptUs = 0;
  let sent = 0;
  /** The latest step known to have begun before the next byte may arrive; −1: none has to. */
  let gate = -1;
  /** Bytes for which there was found to be room, and when. */
  let grantedTo = 0;
  let grantedUs = 0;
  let starved = 0;
  let stoodUs = 0;

  /** When the bytes up to `to` may arrive. */
  const gateOf = (to: number): number => {
    const known = startsUs.length - 1;
    while (gate < known && to - (gate < 0 ? 0 : lastByte[gate]) > roomBytes) gate++;
    if (gate < 0) return 0;
    // A step that is larger than the room is read as it comes, once the step before it is over.
    return Math.ceil(to - lastByte[gate] > roomBytes ? endsUs[gate] : startsUs[gate]);
  };
  const send = (to: number, neededUs: number) => {
    let gateUs = to <= grantedTo ? grantedUs : Math.max(gateOf(to), neededUs);
    if (gateUs > freeUs && to > grantedTo) {
      // There is no hurry: rather than trickle, it waits until there is room for a larger piece.
      grantedTo = Math.max(to, sent + smallest);
      grantedUs = Math.max(gateOf(grantedTo), neededUs);
      gateUs = grantedUs;
    }
    const leavesUs = Math.max(freeUs, gateUs);
    const open = writes.at(-1);
    if (open && gateUs <= open.atUs && leavesUs - open.atUs <= aheadUs) open.to = to;
    else writes.push({ atUs: Math.max(gateUs, Math.ceil(leavesUs - aheadUs), open?.atUs ?? 0), from: sent, to });
    freeUs = leavesUs + (to - sent) * byteUs;
    sent = to;
  };

  return {
    add({ bytes, takesUs, unbroken, heats }) {
      const to = sent + bytes;
      const part = bytes <= roomBytes / 8 ? bytes : smallest;
      lastByte.push(to);
      // What takes no time may as well come early: then it isn't in the way of the row behind it.
      const neededUs = takesUs > 0 ? Math.ceil(endUs - leadUs - bytes * byteUs) : 0;
      while (sent < to) send(Math.min(sent + part, to), neededUs);
      const lateUs = freeUs - promptUs;
      promptUs = Math.max(promptUs, freeUs) + takesUs;
      if (unbroken && lateUs > patienceUs) {
        starved++;
        stoodUs += lateUs;
      }
      const beginsUs = Math.max(endUs, freeUs);
      startsUs.push(beginsUs);
      const slowUs = takesUs * slowness;
      endUs = beginsUs + takesUs + (heats ? Math.min(slowUs, stretchUs) : slowUs);
      endsUs.push(endUs);
    },
    get starved() {
      return starved;
    },
    get endUs() {
      return endUs;
    },
    lateUs: bytes => freeUs + bytes * byteUs - promptUs,
    schedule: () => ({ writes, startsUs, arrivedUs: freeUs, endUs, starved, stoodUs }),
    mark() {
      const was = {
        freeUs,
        endUs,
        promptUs,
        sent,
        gate,
        grantedTo,
        grantedUs,
        starved,
        stoodUs,
        steps: startsUs.length,
        writes: writes.length,
      };
      const lastTo = writes.at(-1)?.to ?? 0;
      return () => {
        ({ freeUs, endUs, promptUs, sent, gate, grantedTo, grantedUs, starved, stoodUs } = was);
        startsUs.length = was.steps;
        endsUs.length = was.steps;
        lastByte.length = was.steps;
        writes.length = was.writes;
        if (was.writes > 0) writes[was.writes - 1].to = lastTo;
      };
    },
  };
};

export const pace = (steps: readonly PacedStep[], wire: Wire): Schedule => {
  const pacer = createPacer(wire);
  for (const step of steps) pacer.add(step);
  return pacer.schedule();
};
