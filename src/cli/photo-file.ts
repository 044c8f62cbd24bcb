import { readPage } from '../gather/page.ts';
import { readNamedFile } from '../named-file.ts';
import { decodePhoto, uprightPng } from '../picture/image.ts';
import type { Luma } from '../picture/luma.ts';

/** Bytes of a photo or scan. Throws a `Fault` that says why it can't be read. */
export const readPhotoFile = (path: string): Uint8Array =>
  readNamedFile(path, {
    code: 'unreadable',
    largestBytes: 400_000_000,
    tooLarge: 'any photo that can be read',
    mend: 'scale it down first',
  });

/** No paper shows more: a large PNG is reduced to less than this while it is read, so that it fits a small board's memory. */
const pixelsWanted = 24_000_000;
/** More than any camera or scanner makes. */
const mostPixels = 1_000_000_000;

const pngPixels = (bytes: Uint8Array): number => {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  return bytes.length >= 33 && view.getUint32(0) === 0x89504e47 ? view.getUint32(16) * view.getUint32(20) : 0;
};

/** A photo as full-range luma, upright. Throws a `Fault` that says why it can't be read. */
export const readPhoto = async (path: string): Promise<Luma> => {
  const bytes = readPhotoFile(path);
  const pixels = pngPixels(bytes);
  const large = pixels > pixelsWanted && pixels < mostPixels ? await readPage(bytes, path, pixelsWanted) : null;
  return large ? uprightPng(large, bytes) : decodePhoto(bytes, path);
};
