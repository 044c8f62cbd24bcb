import { Worker } from 'node:worker_threads';
import type { Caption, Darkroom, DarkroomSaid } from '../parts/darkroom.ts';
import type { Frame } from '../parts/webcam.ts';
import type { DevelopSettings } from '../picture/develop.ts';

/** The thread finds the look itself. */
export type DarkroomSettings = Omit<DevelopSettings, 'look'>;

export interface DarkroomRequest {
  id: number;
  frame: Frame;
  caption: Caption;
}
export type DarkroomAnswer = { id: number; said: DarkroomSaid };

export interface BoardDarkroom extends Darkroom {
  /** Starts the thread before the first picture needs it. */
  warmUp(): void;
  close(): void;
}

/** Frame to dots on a thread of its own, so that button and printer are served meanwhile. */
export const createThreadDarkroom = (threadFile: string | URL, settings: DarkroomSettings): BoardDarkroom => {
  const waiting = new Map<number, (said: DarkroomSaid) => void>();
  let thread: Worker | null = null;
  let lastId = 0;

  const failAll = (why: string) => {
    const all = [...waiting.values()];
    waiting.clear();
    for (const heard of all) heard({ kind: 'failed', why });
  };
  const start = (): Worker => {
    const started = new Worker(threadFile, { workerData: settings });
    let why = 'its thread ended';
    started.on('message', ({ id, said }: DarkroomAnswer) => {
      const heard = waiting.get(id);
      waiting.delete(id);
      heard?.(said);
    });
    started.on('error', error => {
      why = error.message;
    });
    started.on('exit', () => {
      if (thread !== started) return;
      thread = null;
      failAll(why);
    });
    started.unref();
    return started;
  };

  return {
    warmUp() {
      thread ??= start();
    },
    develop(frame, caption, heard) {
      thread ??= start();
      const id = ++lastId;
      waiting.set(id, heard);
      // The album keeps its own hold of the frame: a copy goes over, and isn't copied again on its way.
      const data = frame.data.slice();
      const request: DarkroomRequest = { id, caption, frame: { ...frame, data } };
      thread.postMessage(request, [data.buffer as ArrayBuffer]);
      return () => void waiting.delete(id);
    },
    close() {
      waiting.clear();
      const ending = thread;
      thread = null;
      void ending?.terminate();
    },
  };
};
