import { existsSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { Worker } from 'node:worker_threads';
import type { Gathered } from './develop.ts';
import type { ScanResult } from './scan.ts';
import { type Failure, failed, perform, type Task } from './task.ts';

const workerFile = new URL('./gather-worker.mjs', import.meta.url);

export type ScanDone = { ok: true; result: ScanResult } | Failure;

interface Job {
  /** Made only when the job's turn has come, since it may be a whole file. */
  task(): Task;
  take(done: Awaited<ReturnType<typeof perform>>): void;
}

/** A thread that does one task at a time; when it dies (out of memory, say), that costs the task, not those after it. */
const createThread = () => {
  let worker: Worker | null = null;
  let settle: Job['take'] = () => {};
  const start = () => {
    const made = new Worker(workerFile);
    made.on('message', done => settle(done));
    made.on('error', error => {
      worker = null;
      settle({ ok: false, why: error.message, mend: 'scan it at a lower resolution' });
    });
    return made;
  };
  return {
    perform: (task: Task) =>
      new Promise<Parameters<Job['take']>[0]>(resolve => {
        settle = resolve;
        worker ??= start();
        worker.postMessage(task);
      }),
    close: () => worker?.terminate(),
  };
};

/**
 * Gathers scans on all cores, `done` in the order in which they are ready. To look a scan over is one job, and each of its
 * pictures then is one more. Pictures come first: so a single page keeps all cores busy, and no more than one page more
 * than there are cores is in memory. Outside the bundle, where there is no worker's file, all is done in this thread.
 */
export const gatherAll = async (
  names: readonly string[],
  read: (name: string) => Uint8Array,
  dotRadius: number,
  done: (name: string, result: ScanDone) => void,
  signal: AbortSignal,
): Promise<void> => {
  const waiting = [...names];
  const pictureJobs: Job[] = [];
  let surveysUnderWay = 0;
  /** Those with nothing to do, until a survey under way brings something. */
  let idle: (() => void)[] = [];

  const surveyOf = (name: string): Job => ({
    task: () => ({ kind: 'survey', name, bytes: read(name) }),
    take(surveyed) {
      surveysUnderWay--;
      if (!surveyed.ok) done(name, surveyed);
      else if (surveyed.kind === 'survey') {
        const { scan, sightings, notes } = surveyed.result;
        const pictures: (Gathered | null)[] = sightings.map(() => null);
        let left = sightings.length;
        const finish = () => {
          if (left === 0)
            done(name, { ok: true, result: { pictures: pictures.filter(picture => picture !== null), notes } });
        };
        finish();
        sightings.forEach((sighting, index) => {
          pictureJobs.push({
            task: () => ({ kind: 'develop', scan, sighting, dotRadius }),
            take(developed) {
              if (!developed.ok) notes.push(`one picture was lost: ${developed.why}: ${developed.mend}`);
              else if (developed.kind === 'develop') pictures[index] = developed.result;
              left--;
              finish();
            },
          });
        });
      }
      for (const wake of idle) wake();
      idle = [];
    },
  });

  const nextJob = async (): Promise<Job | null> => {
    while (!signal.aborted) {
      const picture = pictureJobs.shift();
      if (picture) return picture;
      const name = waiting.shift();
      if (name !== undefined) {
        surveysUnderWay++;
        return surveyOf(name);
      }
      if (surveysUnderWay === 0) return null;
      await new Promise<void>(resolve => {
        idle.push(resolve);
      });
    }
    return null;
  };

  const workOff = async (thread: { perform: typeof perform; close(): void }) => {
    for (let job = await nextJob(); job; job = await nextJob()) {
      try {
        job.take(await thread.perform(job.task()));
      } catch (error) {
        job.take(failed(error));
      }
    }
    thread.close();
  };
  const threads = existsSync(workerFile)
    ? Array.from({ length: availableParallelism() }, createThread)
    : [{ perform, close: () => {} }];
  await Promise.all(threads.map(workOff));
};
