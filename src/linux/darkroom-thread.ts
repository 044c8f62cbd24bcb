/** The darkroom's thread: one developer, reckoned once, then a picture at a time. */
import { parentPort, workerData } from 'node:worker_threads';
import { createDeveloper } from '../picture/develop.ts';
import { resolveLook } from '../picture/looks.ts';
import type { DarkroomAnswer, DarkroomRequest, DarkroomSettings } from './darkroom.ts';

const settings = workerData as DarkroomSettings;
const developer = createDeveloper({ ...settings, look: resolveLook(settings.picture) });

const answer = ({ id, frame, caption }: DarkroomRequest): DarkroomAnswer => {
  try {
    return { id, said: { kind: 'developed', dots: developer.develop(frame, caption) } };
  } catch (error) {
    return { id, said: { kind: 'failed', why: (error as Error).message } };
  }
};

parentPort?.on('message', (request: DarkroomRequest) => {
  const { id, said } = answer(request);
  const bytes = said.kind === 'developed' ? [said.dots.data.buffer as ArrayBuffer] : [];
  parentPort?.postMessage({ id, said }, bytes);
});
