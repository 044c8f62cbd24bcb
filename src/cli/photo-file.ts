import { readFileSync, statSync } from 'node:fs';
import { Fault } from '../parts/fault.ts';

/** No photo that could be decoded is larger. */
const largestBytes = 400_000_000;

const reasons: Record<string, string> = {
  ENOENT: 'there is no such file',
  EACCES: 'you may not read it',
  EISDIR: 'it is a folder',
  ENOTDIR: 'a part of the path is no folder',
};

/** Bytes of a photo or scan. Throws a `Fault` that says why it can't be read. */
export const readPhotoFile = (path: string): Uint8Array => {
  try {
    if (statSync(path).size > largestBytes)
      throw new Fault('unreadable', `${path}: is larger than any photo that can be read`, 'scale it down first');
    return readFileSync(path);
  } catch (error) {
    if (error instanceof Fault) throw error;
    const { code = '', message } = error as NodeJS.ErrnoException;
    throw new Fault('unreadable', `${path}: can’t be read: ${reasons[code] ?? message}`, 'check the path', {
      cause: error,
    });
  }
};
