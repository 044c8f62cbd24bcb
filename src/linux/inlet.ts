import type { Clock, Inlet, PartName, Undo } from '../parts/clock.ts';
import { createTimers } from '../parts/timers.ts';

/** Where the real time and a real timer come from; tests put their own in. */
export interface Host {
  /** CLOCK_MONOTONIC in integer microseconds: the clock by which the kernel stamps edges and frames. */
  monotonicUs(): number;
  /** Milliseconds since 1970 as the board believes. */
  wallMs(): number;
  /** One real timer; it may be late, never early by more than its own grain. */
  wake(delayUs: number, due: () => void): Undo;
  /** Calls back once what waits in the kernel was heard. */
  soon(act: () => void): void;
}

export type Sink = (atUs: number, part: PartName, said: Record<string, unknown>) => void;

export interface BoardClock {
  clock: Clock;
  inlet: Inlet;
  /** CLOCK_MONOTONIC at logical time 0, microseconds. */
  readonly startedMonotonicUs: number;
  /** Logical time of a kernel stamp; never negative. */
  fromMonotonicUs(stampUs: number): number;
  /** From now on every input is handed to `sink` before it is delivered. */
  record(sink: Sink): void;
  /** Nothing is fired or delivered any more. */
  stop(): void;
}

interface Heard {
  part: PartName;
  said: Record<string, unknown>;
  deliver: () => void;
  /** When it happened, by the kernel's word; else it counts from when it is taken in. */
  atUs: number;
}

export interface BoardClockOptions {
  host?: Host;
  /** The event loop came late to a timer by more than `stalledUs`. */
  onStall?: (lateUs: number) => void;
  stalledUs?: number;
  /** The board learnt the time; delivered as an input. */
  onWallStep?: (stepMs: number) => void;
}

const longestTimeoutMs = 2 ** 31 - 1;

export const processHost: Host = {
  // libuv's high resolution time is CLOCK_MONOTONIC on Linux.
  monotonicUs: () => Number(process.hrtime.bigint() / 1000n),
  wallMs: () => Date.now(),
  wake(delayUs, due) {
    const timeout = setTimeout(due, Math.min(longestTimeoutMs, Math.ceil(delayUs / 1000)));
    return () => clearTimeout(timeout);
  },
  // Timers come before what the kernel has to say, and this comes after it.
  soon: act => void setImmediate(act),
};

/** A timer that is overdue by more than this shows that the event loop stood still. */
const overdueUs = 20_000;

/** Wall time that moved this far against the monotonic clock was set, not merely steered. */
const wallStepMs = 500;

/**
 * The board's clock and its one door. Logical time follows CLOCK_MONOTONIC, but moves only when a timer falls due, and
 * then to its deadline, or when an input is taken in, and then to its stamp: what the machine does is a function of the
 * stamped inputs, however late the event loop was. After a stall everything that waits in the kernel is heard before the
 * timers go on, each thing in its place among them where it has a stamp of its own: a finger that let go meanwhile has
 * not held.
 */
export const createBoardClock = (options: BoardClockOptions = {}): BoardClock => {
  const { host = processHost, stalledUs = 250_000 } = options;
  const timers = createTimers();
  const startedMonotonicUs = host.monotonicUs();
  const waiting: Heard[] = [];
  let wallAtZeroMs = host.wallMs();
  let nowUs = 0;
  let busy = false;
  /** After a stall: the kernel is heard first. */
  let listening = false;
  let stopped = false;
  let sink: Sink | null = null;
  let wakeAtUs = Number.POSITIVE_INFINITY;
  let cancelWake: Undo = () => {};

  const realUs = () => host.monotonicUs() - startedMonotonicUs;
  const fireUntil = (untilUs: number) => {
    for (let timer = timers.take(untilUs); timer && !stopped; timer = timers.take(untilUs)) {
      nowUs = Math.max(nowUs, timer.dueUs);
      timer.due();
    }
  };
  const deliver = ({ part, said, deliver: act, atUs }: Heard) => {
    const stampUs = Math.max(Math.min(atUs, realUs()), nowUs);
    fireUntil(stampUs);
    if (stopped) return;
    nowUs = Math.max(nowUs, stampUs);
    sink?.(nowUs, part, said);
    act();
  };
  const noticeWallStep = () => {
    const stepMs = Math.round(host.wallMs() - wallAtZeroMs - realUs() / 1000);
    if (Math.abs(stepMs) < wallStepMs) return;
    // Timers that were due before still see the time as it was then.
    const step = () => {
      wallAtZeroMs += stepMs;
      options.onWallStep?.(stepMs);
    };
    deliver({ part: 'clock', said: { kind: 'stepped', stepMs }, deliver: step, atUs: Number.POSITIVE_INFINITY });
  };
  const arm = () => {
    const nextUs = stopped ? Number.POSITIVE_INFINITY : timers.nextUs;
    if (nextUs === wakeAtUs) return;
    cancelWake();
    cancelWake = () => {};
    wakeAtUs = nextUs;
    if (nextUs === Number.POSITIVE_INFINITY) return;
    cancelWake = host.wake(Math.max(0, nextUs - realUs()), () => {
      wakeAtUs = Number.POSITIVE_INFINITY;
      const lateUs = realUs() - nextUs;
      if (lateUs > stalledUs) options.onStall?.(lateUs);
      if (lateUs > overdueUs) listen();
      else run(() => fireUntil(realUs()));
    });
  };
  const listen = () => {
    if (listening) return;
    listening = true;
    host.soon(() => {
      listening = false;
      if (stopped) return;
      waiting.sort((one, other) => one.atUs - other.atUs);
      run(() => {});
      run(() => fireUntil(realUs()));
    });
  };
  /** Inputs that come while another is being delivered wait for their turn: a part may answer inside the call. */
  const run = (first: () => void) => {
    busy = true;
    try {
      first();
      for (let next = waiting.shift(); next && !stopped; next = waiting.shift()) deliver(next);
    } finally {
      busy = false;
      arm();
    }
  };

  return {
    clock: {
      nowUs: () => nowUs,
      wallMs: () => wallAtZeroMs + Math.floor(nowUs / 1000),
      after(delayUs, due) {
        const undo = timers.set(nowUs + Math.max(0, Math.round(delayUs)), due);
        if (!busy) arm();
        return undo;
      },
    },
    inlet: {
      take(part, said, act, atUs = Number.POSITIVE_INFINITY) {
        if (stopped) return;
        // What one part says stays in its order.
        const before = waiting.findLast(heard => heard.part === part);
        waiting.push({ part, said, deliver: act, atUs: Math.max(atUs, before?.atUs ?? 0) });
        if (busy) return;
        if (timers.nextUs < realUs() - overdueUs) listen();
        if (!listening) run(noticeWallStep);
      },
      note(part, said) {
        if (!stopped) sink?.(nowUs, part, said);
      },
    },
    startedMonotonicUs,
    fromMonotonicUs: stampUs => Math.max(0, Math.round(stampUs) - startedMonotonicUs),
    record(to) {
      sink = to;
    },
    stop() {
      stopped = true;
      waiting.length = 0;
      arm();
    },
  };
};
