import { Worker } from 'node:worker_threads';
import type { LetGo } from './gpio/lines.ts';

export interface SupervisorData {
  shared: SharedArrayBuffer;
  letGo: LetGo;
}

/** Shared with the thread. `pulse` counts: odd while the coil is on, negative to end; `up` once it watches; `acted` how often it let go. */
export const cell = { pulse: 0, up: 1, acted: 2 } as const;
const sharedBytes = 32;
const longestCloseMs = 200;
export const sharedCells = (shared: SharedArrayBuffer) => ({
  cells: new Int32Array(shared, 0, 3),
  deadlineUs: new Float64Array(shared, 16, 1),
  /** When the thread last let go. */
  actedAtUs: new Float64Array(shared, 24, 1),
});

export interface Supervisor {
  /** Whether it watches: it takes a moment to start. */
  readonly up: boolean;
  /** How often it had to let the line go. */
  readonly acted: number;
  /** When it last did, CLOCK_MONOTONIC. */
  readonly actedAtUs: number;
  /** Before the line is driven: let it go at `deadlineUs` (CLOCK_MONOTONIC) unless `off` was called. */
  on(deadlineUs: number): void;
  off(): void;
  close(): void;
}

/** A thread that lets the coil go when the event loop doesn't. `onEnd` is called if it ends by itself; it is started again. */
export const createSupervisor = (letGo: LetGo, threadFile: string | URL, onEnd: (why: string) => void): Supervisor => {
  const shared = new SharedArrayBuffer(sharedBytes);
  const { cells, deadlineUs, actedAtUs } = sharedCells(shared);
  let closed = false;
  const data: SupervisorData = { shared, letGo };
  const start = () => {
    const thread = new Worker(threadFile, {
      workerData: data,
      // Its descriptor comes from dup(2), which node doesn't know of.
      trackUnmanagedFds: false,
      resourceLimits: { maxOldGenerationSizeMb: 16, maxYoungGenerationSizeMb: 1, stackSizeMb: 1 },
    });
    let why = 'it ended';
    thread.on('error', error => {
      why = error.message;
    });
    thread.on('exit', () => {
      Atomics.store(cells, cell.up, 0);
      if (closed) return;
      onEnd(why);
      setTimeout(() => !closed && start(), 1000).unref();
    });
    thread.unref();
  };
  start();
  return {
    get up() {
      return Atomics.load(cells, cell.up) === 1;
    },
    get acted() {
      return Atomics.load(cells, cell.acted);
    },
    get actedAtUs() {
      return actedAtUs[0];
    },
    on(at) {
      deadlineUs[0] = at;
      const pulse = Atomics.load(cells, cell.pulse);
      Atomics.store(cells, cell.pulse, pulse + (pulse % 2 === 0 ? 1 : 2));
      Atomics.notify(cells, cell.pulse);
    },
    off() {
      const pulse = Atomics.load(cells, cell.pulse);
      if (pulse % 2 === 0) return;
      Atomics.store(cells, cell.pulse, (pulse + 1) & 0x3fffffff);
      Atomics.notify(cells, cell.pulse);
    },
    close() {
      closed = true;
      Atomics.store(cells, cell.pulse, -2);
      Atomics.notify(cells, cell.pulse);
      // The line stays requested until the thread has closed its own descriptor of it.
      Atomics.wait(cells, cell.up, 1, longestCloseMs);
    },
  };
};
