import { decodePhoto } from '../picture/image.ts';
import type { Gathered } from './develop.ts';
import { develop } from './develop.ts';
import type { Grey } from './grey.ts';
import { readPage } from './page.ts';
import { bareShare, restoreTone } from './restore.ts';
import type { Sighting, Survey } from './survey.ts';
import { survey } from './survey.ts';

/** What a worker is asked to do: look one scan over, or take one picture off a scan that was looked over. */
export type Task =
  | { kind: 'survey'; name: string; bytes: Uint8Array }
  | { kind: 'develop'; scan: Grey; sighting: Sighting; dotRadius: number };

export type Failure = { ok: false; why: string; mend: string };

/** What went wrong, in words. */
export const failed = (error: unknown): Failure => {
  const { message, mend = '' } = error as Error & { mend?: string };
  return { ok: false, why: message, mend };
};

type Done = { ok: true; kind: 'survey'; result: Survey } | { ok: true; kind: 'develop'; result: Gathered } | Failure;

/** A scan's pixels where all threads see them, so that its pictures can be taken off it on all cores without copies. */
const shared = ({ widthPx, heightPx, data }: Grey): Grey => {
  if (data.buffer instanceof SharedArrayBuffer) return { widthPx, heightPx, data };
  const copy = new Uint8Array(new SharedArrayBuffer(data.length));
  copy.set(data);
  return { widthPx, heightPx, data: copy };
};

/** Does a task; what a person can mend comes back as words. */
export const perform = async (task: Task): Promise<Done> => {
  try {
    if (task.kind === 'develop') {
      const { scan, sighting, dotRadius } = task;
      return {
        ok: true,
        kind: 'develop',
        result: develop(scan, sighting, dots => restoreTone(bareShare(dots, dotRadius))),
      };
    }
    const { bytes, name } = task;
    const surveyed = survey((await readPage(bytes, name)) ?? decodePhoto(bytes, name));
    return { ok: true, kind: 'survey', result: { ...surveyed, scan: shared(surveyed.scan) } };
  } catch (error) {
    return failed(error);
  }
};
