import { crc32 } from 'node:zlib';
import type { Frame } from '../parts/webcam.ts';

/** Eight hexadecimal digits of a CRC-32 (ISO 3309). */
export const crcText = (crc: number): string => (crc >>> 0).toString(16).padStart(8, '0');

/** A frame is a megabyte or two: who names it twice reckons once. */
const known = new WeakMap<Frame, string>();

/** Names a frame's content, in log and recording alike. */
export const digestOfFrame = (frame: Frame): string => {
  const before = known.get(frame);
  if (before !== undefined) return before;
  const digest = crcText(crc32(frame.data));
  known.set(frame, digest);
  return digest;
};

/** The name of a frame that somebody looked at. */
export const knownDigest = (frame: Frame): string | undefined => known.get(frame);

/** For a frame whose content isn't at hand, but whose name is. */
export const giveDigest = (frame: Frame, digest: string): void => void known.set(frame, digest);
