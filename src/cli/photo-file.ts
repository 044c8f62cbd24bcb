import { readNamedFile } from '../named-file.ts';

/** Bytes of a photo or scan. Throws a `Fault` that says why it can't be read. */
export const readPhotoFile = (path: string): Uint8Array =>
  readNamedFile(path, {
    code: 'unreadable',
    largestBytes: 400_000_000,
    tooLarge: 'any photo that can be read',
    mend: 'scale it down first',
  });
