import { decodePhoto } from '../picture/image.ts';
import { bareShare, restoreTone } from './restore.ts';
import type { ScanResult } from './scan.ts';
import { gatherScan } from './scan.ts';

/** One scan to be gathered, as it goes to a worker. */
export interface ScanTask {
  name: string;
  bytes: Uint8Array;
  dotRadius: number;
}

export type ScanDone = { ok: true; result: ScanResult } | { ok: false; why: string; mend: string };

/** What went wrong with a scan, in words. */
export const failed = (error: unknown): ScanDone => {
  const { message, mend = '' } = error as Error & { mend?: string };
  return { ok: false, why: message, mend };
};

/** Decodes a scan and takes its pictures off; what a person can mend comes back as words. */
export const gatherTask = ({ name, bytes, dotRadius }: ScanTask): ScanDone => {
  try {
    const scan = decodePhoto(bytes, name);
    return { ok: true, result: gatherScan(scan, dots => restoreTone(bareShare(dots, dotRadius))) };
  } catch (error) {
    return failed(error);
  }
};
