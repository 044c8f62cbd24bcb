/** The way to the printer, and what it can hold. */
export interface Wire {
  /** Time of one byte, µs; 8N1 is ten bits. */
  byteUs: number;
  /** Bytes that may wait in the printer's receive buffer. */
  roomBytes: number;
}

/** Something the printer does when it has read these bytes whole. */
export interface PacedStep {
  bytes: number;
  /** How long the mechanism is busy with it; meanwhile what arrives must wait in the buffer. */
  takesUs: number;
  /** It belongs to what must not stand still before it: a row of dots after a row of dots. */
  unbroken: boolean;
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
  startsUs: Float64Array;
  /** When the last byte has arrived, and when the last step is over. */
  arrivedUs: number;
  endUs: number;
  /** Steps before which the paper stood. */
  starved: number;
  stoodUs: number;
}

/** How far ahead of the wire bytes are handed over, so that a late timer leaves no gap. */
const aheadUs = 10_000;
/** Lateness that a mechanism doesn't notice. */
const patienceUs = 50;

/**
 * When each byte is sent, so that the buffer never holds more than it can even if the printer never says stop.
 * The printer reads a step when the one before is over: while step m is busy, what was sent beyond m waits. A byte may
 * therefore arrive once the step has begun that leaves at most `roomBytes` before it.
 */
export const pace = (steps: readonly PacedStep[], { byteUs, roomBytes }: Wire): Schedule => {
  const startsUs = new Float64Array(steps.length);
  const ends = new Float64Array(steps.length);
  const lastByte = new Int32Array(steps.length);
  const writes: Write[] = [];
  const piece = Math.max(8, Math.floor(roomBytes / 8));

  let freeUs = 0;
  let endUs = 0;
  let sent = 0;
  let gate = -1;
  let starved = 0;
  let stoodUs = 0;

  for (let k = 0; k < steps.length; k++) lastByte[k] = (k > 0 ? lastByte[k - 1] : 0) + steps[k].bytes;

  /** Sends up to byte `to`, all of it behind step `done`, which is the last one that is reckoned yet. */
  const send = (to: number, done: number) => {
    while (gate < done && to - (gate < 0 ? 0 : lastByte[gate]) > roomBytes) gate++;
    // A step that is larger than the room is read as it comes, once the step before it is over.
    const tooLarge = gate >= 0 && to - lastByte[gate] > roomBytes;
    const gateUs = gate < 0 ? 0 : tooLarge ? ends[gate] : startsUs[gate];
    const leavesUs = Math.max(freeUs, gateUs);
    const open = writes.at(-1);
    if (open && gateUs <= open.atUs && leavesUs - open.atUs <= aheadUs) open.to = to;
    else writes.push({ atUs: Math.ceil(Math.max(gateUs, leavesUs - aheadUs, open?.atUs ?? 0)), from: sent, to });
    freeUs = Math.max(leavesUs, writes[writes.length - 1].atUs) + (to - sent) * byteUs;
    sent = to;
  };

  for (let k = 0; k < steps.length; ) {
    // Small steps travel together, as long as they are a small part of the room.
    let last = k;
    const first = k > 0 ? lastByte[k - 1] : 0;
    while (last + 1 < steps.length && lastByte[last + 1] - first <= piece) last++;
    const span = lastByte[last] - first;
    const part = span <= roomBytes / 2 ? span : piece;
    while (sent < lastByte[last]) send(Math.min(sent + part, lastByte[last]), k - 1);
    for (; k <= last; k++) {
      // Each step's own last byte, not the piece's.
      const arrivedUs = freeUs - (lastByte[last] - lastByte[k]) * byteUs;
      const lateUs = arrivedUs - endUs;
      if (steps[k].unbroken && lateUs > patienceUs) {
        starved++;
        stoodUs += lateUs;
      }
      startsUs[k] = Math.max(endUs, arrivedUs);
      ends[k] = startsUs[k] + steps[k].takesUs;
      endUs = ends[k];
    }
  }
  return { writes, startsUs, arrivedUs: freeUs, endUs, starved, stoodUs };
};
