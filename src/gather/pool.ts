import { existsSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { Worker } from 'node:worker_threads';
import { gatherTask, type ScanDone, type ScanTask } from './task.ts';

const workerFile = new URL('./gather-worker.mjs', import.meta.url);

/**
 * Gathers scans on all cores, `done` in the order in which they are ready. A worker that dies (out of memory, say) costs
 * its scan, not the others. Outside the bundle, where there is no worker's file, one after the other.
 */
export const gatherAll = async (
  names: readonly string[],
  read: (name: string) => ScanTask,
  done: (name: string, result: ScanDone) => void,
  signal: AbortSignal,
): Promise<void> => {
  const waiting = [...names];
  if (!existsSync(workerFile) || names.length === 1) {
    for (const name of waiting) {
      if (signal.aborted) return;
      done(name, gatherTask(read(name)));
    }
    return;
  }
  const workOff = () =>
    new Promise<void>(resolve => {
      let worker: Worker | null = null;
      let current: string | null = null;
      const next = () => {
        current = signal.aborted ? null : (waiting.shift() ?? null);
        if (current === null) {
          void worker?.terminate();
          resolve();
          return;
        }
        worker ??= start();
        worker.postMessage(read(current));
      };
      const start = () => {
        const made = new Worker(workerFile);
        made.on('message', (result: ScanDone) => {
          if (current !== null) done(current, result);
          next();
        });
        made.on('error', error => {
          worker = null;
          if (current !== null)
            done(current, { ok: false, why: `${current}: ${error.message}`, mend: 'scan it at a lower resolution' });
          next();
        });
        return made;
      };
      next();
    });
  await Promise.all(Array.from({ length: Math.min(availableParallelism(), names.length) }, workOff));
};
