import { mkdir, readdir, rename, unlink, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { Ring } from './ring.ts';

export interface FaultKeeperOptions {
  ring: Ring;
  /** Where recordings of faults are kept; made when the first one is. */
  folder: string;
  /** Real time in ms; tests put their own in. */
  nowMs?: () => number;
}

export interface FaultKeeper {
  /** Something went wrong: the inputs so far are kept, together with what follows shortly. */
  fault(): void;
  /** Keeps at once what still waits to be kept. */
  close(): Promise<void>;
}

/** What a fault sets off belongs to it. */
const aftermathMs = 3000;
/** Faults often come in crowds, and a card doesn't like to be written all the time. */
const restMs = 60_000;
const mostFiles = 8;

const nameOf = (number: number): string => `fault-${String(number).padStart(5, '0')}.ndjson`;
const numberOf = (name: string): number => Number(/^fault-(\d+)\.ndjson$/.exec(name)?.[1] ?? 0);

/**
 * Keeps the ring on disk when something goes wrong: a few files, the oldest makes room. A disk that can't take it changes
 * nothing for the camera.
 */
export const createFaultKeeper = ({
  ring,
  folder,
  nowMs = () => performance.now(),
}: FaultKeeperOptions): FaultKeeper => {
  let timer: NodeJS.Timeout | null = null;
  let keptMs = Number.NEGATIVE_INFINITY;

  const keep = async () => {
    timer = null;
    keptMs = nowMs();
    const text = ring.text();
    try {
      await mkdir(folder, { recursive: true, mode: 0o750 });
      // By number, not by time: a board without a clock starts in 1970 again and again.
      const numbers = (await readdir(folder)).map(numberOf).filter(number => number > 0);
      numbers.sort((a, b) => a - b);
      for (const old of numbers.slice(0, Math.max(0, numbers.length - mostFiles + 1)))
        await unlink(join(folder, nameOf(old)));
      const path = join(folder, nameOf((numbers.at(-1) ?? 0) + 1));
      await writeFile(`${path}.new`, text, { mode: 0o640 });
      await rename(`${path}.new`, path);
    } catch {
      // The fault itself is in the log; that it couldn't be recorded helps nobody.
    }
  };

  return {
    fault() {
      if (timer !== null) return;
      timer = setTimeout(() => void keep(), Math.max(aftermathMs, keptMs + restMs - nowMs()));
      timer.unref();
    },
    async close() {
      if (timer === null) return;
      clearTimeout(timer);
      await keep();
    },
  };
};
