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
  startsUs: Float64Array;
  /** When the last byte has arrived, and when the last step is over. */
  arrivedUs: number;
  endUs: number;
  /** Steps before which the paper stands though it must not, and for how long in all. */
  starved: number;
  stoodUs: number;
}

/** Rows of dots that are only thought of; in arrays, since a search thinks of the same ones over and over. */
export interface Thought {
  /** Bytes of what is told before them, which takes no time. */
  toldBytes: number;
  sizes: Int32Array;
  takesUs: Float64Array;
  /** The paper must not stand still before the first; never may it between them. */
  unbroken: boolean;
}

export interface Outcome {
  starved: number;
  us: number;
  /** How long after the end of it more bytes would have arrived; negative: how long before. */
  lateUs: number;
}

export interface Pacer {
  add(step: PacedStep): void;
  readonly starved: number;
  readonly endUs: number;
  /** What would come of these rows, and of `more` bytes behind them; null where the paper stood more often than that. */
  foresee(rows: Thought, more: number, starvedAtMost: number): Outcome | null;
  /** When what was added is sent and done; writes only where they are kept. */
  schedule(): Schedule;
}

/** How far ahead of the wire bytes are handed over, so that a late timer leaves no gap. */
const aheadUs = 10_000;
/** A line that comes this late stretches its time and doesn't stop the motor; common practice, no source. */
const patienceUs = 150;
/** How much of that each row may use up for a printer slower than its numbers. */
const stretchUs = 100;

/** Where wire and printer stand; flat, so that thinking ahead costs one copy. */
interface Flow {
  steps: number;
  /** When the wire is free, and when the mechanism is. */
  freeUs: number;
  endUs: number;
  /** The same for a printer that keeps its numbers. */
  promptUs: number;
  sent: number;
  /** The latest step known to have begun before the next byte may arrive; −1: none has to. */
  gate: number;
  /** Bytes for which there was found to be room, and when. */
  grantedTo: number;
  grantedUs: number;
  starved: number;
  stoodUs: number;
}

const createFlow = (): Flow => ({
  steps: 0,
  freeUs: 0,
  endUs: 0,
  promptUs: 0,
  sent: 0,
  gate: -1,
  grantedTo: 0,
  grantedUs: 0,
  starved: 0,
  stoodUs: 0,
});

/** Field by field: the copy is made for every heat that is tried. */
const copyFlow = (from: Flow, to: Flow) => {
  to.steps = from.steps;
  to.freeUs = from.freeUs;
  to.endUs = from.endUs;
  to.promptUs = from.promptUs;
  to.sent = from.sent;
  to.gate = from.gate;
  to.grantedTo = from.grantedTo;
  to.grantedUs = from.grantedUs;
  to.starved = from.starved;
  to.stoodUs = from.stoodUs;
};

/**
 * When each byte is sent, so that the buffer never holds more than it can even if the printer never says stop.
 * The printer reads a step when the one before is over: while step m is busy, what was sent beyond m waits. A byte may
 * therefore arrive once a step has begun behind which there is room for it.
 *
 * With some slowness that is reckoned for a printer slower than its numbers, and bytes don't come long before they are
 * needed. One that keeps its numbers then works off what it was ahead, and from there on waits for each row, less than its
 * motor notices; its drift never adds up.
 *
 * @param writes Where the writes are put; null where only times are of interest.
 */
export const createPacer = ({ byteUs, roomBytes, slowness, leadUs }: Wire, writes: Write[] | null): Pacer => {
  // What is thought ahead stands behind the steps that there are, until it is written over.
  let startsUs = new Float64Array(1024);
  let endsUs = new Float64Array(1024);
  /** Bytes up to the end of each step. */
  let lastByte = new Float64Array(1024);
  const smallest = Math.max(1, Math.floor(roomBytes / 8));
  const real = createFlow();
  const thought = createFlow();

  const makeRoom = (steps: number) => {
    if (steps <= startsUs.length) return;
    const grown = (old: Float64Array) => {
      const larger = new Float64Array(Math.max(steps, old.length * 2));
      larger.set(old);
      return larger;
    };
    startsUs = grown(startsUs);
    endsUs = grown(endsUs);
    lastByte = grown(lastByte);
  };
  /** When the bytes up to `to` may arrive. */
  const gateOf = (flow: Flow, to: number): number => {
    const known = flow.steps - 1;
    let gate = flow.gate;
    while (gate < known && to - (gate < 0 ? 0 : lastByte[gate]) > roomBytes) gate++;
    flow.gate = gate;
    if (gate < 0) return 0;
    // A step that is larger than the room is read as it comes, once the step before it is over.
    return Math.ceil(to - lastByte[gate] > roomBytes ? endsUs[gate] : startsUs[gate]);
  };
  const send = (flow: Flow, to: number, neededUs: number) => {
    const { sent, freeUs } = flow;
    let gateUs = to <= flow.grantedTo ? flow.grantedUs : Math.max(gateOf(flow, to), neededUs);
    if (gateUs > freeUs && to > flow.grantedTo) {
      // There is no hurry: rather than trickle, it waits until there is room for a larger piece.
      flow.grantedTo = Math.max(to, sent + smallest);
      gateUs = Math.max(gateOf(flow, flow.grantedTo), neededUs);
      flow.grantedUs = gateUs;
    }
    const leavesUs = Math.max(freeUs, gateUs);
    if (writes && flow === real) {
      const open = writes.at(-1);
      if (open && gateUs <= open.atUs && leavesUs - open.atUs <= aheadUs) open.to = to;
      else writes.push({ atUs: Math.max(gateUs, Math.ceil(leavesUs - aheadUs), open?.atUs ?? 0), from: sent, to });
    }
    flow.freeUs = leavesUs + (to - sent) * byteUs;
    flow.sent = to;
  };
  const step = (flow: Flow, bytes: number, takesUs: number, unbroken: boolean, heats: boolean) => {
    const to = flow.sent + bytes;
    const part = bytes <= roomBytes / 8 ? bytes : smallest;
    lastByte[flow.steps] = to;
    // What takes no time may as well come early: then it isn't in the way of the row behind it.
    const neededUs = takesUs > 0 ? Math.ceil(flow.endUs - leadUs - bytes * byteUs) : 0;
    while (flow.sent < to) send(flow, Math.min(flow.sent + part, to), neededUs);
    const { freeUs, promptUs, endUs } = flow;
    const lateUs = freeUs - promptUs;
    flow.promptUs = Math.max(promptUs, freeUs) + takesUs;
    if (unbroken && lateUs > patienceUs) {
      flow.starved++;
      flow.stoodUs += lateUs;
    }
    const beginsUs = Math.max(endUs, freeUs);
    startsUs[flow.steps] = beginsUs;
    const slowUs = takesUs * slowness;
    flow.endUs = beginsUs + takesUs + (heats ? Math.min(slowUs, stretchUs) : slowUs);
    endsUs[flow.steps++] = flow.endUs;
  };

  return {
    add({ bytes, takesUs, unbroken, heats }) {
      makeRoom(real.steps + 1);
      step(real, bytes, takesUs, unbroken, heats);
    },
    get starved() {
      return real.starved;
    },
    get endUs() {
      return real.endUs;
    },
    foresee({ toldBytes, sizes, takesUs, unbroken }, more, starvedAtMost) {
      makeRoom(real.steps + 1 + sizes.length);
      copyFlow(real, thought);
      const most = real.starved + starvedAtMost;
      step(thought, toldBytes, 0, false, false);
      for (let k = 0; k < sizes.length; k++) {
        step(thought, sizes[k], takesUs[k], unbroken || k > 0, true);
        if (thought.starved > most) return null;
      }
      return {
        starved: thought.starved - real.starved,
        us: thought.endUs - real.endUs,
        lateUs: thought.freeUs + more * byteUs - thought.promptUs,
      };
    },
    schedule: () => ({
      writes: writes ?? [],
      startsUs: startsUs.subarray(0, real.steps),
      arrivedUs: real.freeUs,
      endUs: real.endUs,
      starved: real.starved,
      stoodUs: real.stoodUs,
    }),
  };
};

export const pace = (steps: readonly PacedStep[], wire: Wire): Schedule => {
  const pacer = createPacer(wire, []);
  for (const step of steps) pacer.add(step);
  return pacer.schedule();
};
