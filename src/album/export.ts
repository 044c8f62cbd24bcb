import { PNG } from 'pngjs';
import { decodeJpegColour } from '../picture/jpeg.ts';
import { lumaOf } from '../picture/luma.ts';
import { textChunk, writePng } from '../picture/png.ts';
import type { FrameFile } from './frame-file.ts';

/** Keywords that PNG registers (ISO/IEC 15948, 11.3.3.2), and what they say here. */
const textOf = ({ shot, frame, about }: FrameFile, camera: string, software: string): Record<string, string> => ({
  Title: `${camera} ${shot}`,
  Source: camera,
  Software: software,
  ...(about.takenAtMs === null ? {} : { 'Creation Time': new Date(about.takenAtMs).toISOString() }),
  Comment: JSON.stringify({
    shot,
    pressToFrameUs: about.pressToFrameUs,
    exposureUs: frame.exposureEndUs - frame.exposureStartUs,
    sequence: frame.sequence,
  }),
});

/** Behind the signature and IHDR. */
const textPlace = 33;

/**
 * A kept picture as a PNG for any viewer: full range, colour where the webcam's stream had it, packed, with what is known
 * of it as text. Throws a `Fault` where a JPEG frame can't be decoded.
 */
export const exportPng = (file: FrameFile, camera: string, software: string): Uint8Array => {
  const text = textOf(file, camera, software);
  if (file.frame.format !== 'MJPEG') return writePng({ ...lumaOf(file.frame), bits: 8, text }, 9);
  const { widthPx, heightPx, data } = decodeJpegColour(file.frame.data);
  const png = new PNG({ width: widthPx, height: heightPx });
  png.data.set(data);
  const bytes = PNG.sync.write(png, { colorType: 2, inputHasAlpha: true });
  const chunks = Object.entries(text).map(([keyword, words]) => textChunk(keyword, words));
  return Buffer.concat([bytes.subarray(0, textPlace), ...chunks, bytes.subarray(textPlace)]);
};
