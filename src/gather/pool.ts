import { existsSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { Worker } from 'node:worker_threads';
import { failed, gatherTask, type ScanDone, type ScanTask } from './task.ts';

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
  /** The next scan that can be read; what can't is said on the way. */
  const nextTask = (): { name: string; task: ScanTask } | null => {
    for (let name = waiting.shift(); name !== undefined && !signal.aborted; name = waiting.shift())
      try {
        return { name, task: read(name) };
      } catch (error) {
        done(name, failed(error));
      }
    return null;
  };
  if (!existsSync(workerFile) || names.length === 1) {
    for (let next = nextTask(); next; next = nextTask()) done(next.name, gatherTask(next.task));
    return;
  }
  const workOff = () =>
    new Promise<void>(resolve => {
      let worker: Worker | null = null;
      let current: string | null = null;
      const next = () => {
        const found = nextTask();
        current = found?.name ?? null;
        if (!found) {
          void worker?.terminate();
          resolve();
          return;
        }
        worker ??= start();
        worker.postMessage(found.task);
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
