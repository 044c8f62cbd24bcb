import { crc32 } from 'node:zlib';
import type { About } from '../parts/album.ts';
import type { Frame, PixelFormat } from '../parts/webcam.ts';
import { writePng } from '../picture/png.ts';
import { sealed, unsealed } from './account.ts';
import { readGreyPng } from './png.ts';

/**
 * A frame as a file that vouches for itself: who reads it knows the picture's number and whether every byte is as it was
 * kept. So one write makes a picture safe, without a word in the journal.
 *
 * YUYV and GREY become a grey PNG of their luma, not compressed: the paper shows no colour, and packing would cost more
 * time than it saves on the card. MJPEG stays as the webcam sent it, with one comment segment (ITU-T T.81, B.2.4.5).
 */
export interface FrameFile {
  shot: number;
  frame: Frame;
  about: About;
  /** As the webcam sent it: luma comes back from its file as GREY. */
  sentAs: PixelFormat;
}

export type FrameFileRead = { kind: 'read'; file: FrameFile } | { kind: 'damaged'; why: string };
type FrameFileMade = { kind: 'made'; bytes: Uint8Array } | { kind: 'unfit'; why: string };

/** What the file says of itself beside its pixels. */
interface Note {
  shot: number;
  takenAtMs: number | null;
  pressToFrameUs: number;
  sequence: number;
  exposureStartUs: number;
  exposureEndUs: number;
  format: PixelFormat;
  widthPx: number;
  heightPx: number;
  range: 'limited' | 'full';
  /** CRC-32 of an MJPEG frame as it came. */
  crc?: number;
}

const keyword = 'slipshutter';
const segmentStart = Buffer.from(`${keyword} `, 'latin1');

const noteOf = (shot: number, frame: Frame, { takenAtMs, pressToFrameUs }: About): Note => ({
  shot,
  takenAtMs,
  pressToFrameUs,
  sequence: frame.sequence,
  exposureStartUs: frame.exposureStartUs,
  exposureEndUs: frame.exposureEndUs,
  format: frame.format,
  widthPx: frame.widthPx,
  heightPx: frame.heightPx,
  range: frame.range,
});

/** The range of times that a date can name (ECMA-262, time values). */
const longestTimeMs = 8.64e15;
const isNumber = (value: unknown): value is number => typeof value === 'number' && Number.isFinite(value);

const parseNote = (text: string | undefined): Note | null => {
  let note: Note;
  try {
    note = JSON.parse(text ?? '');
  } catch {
    return null;
  }
  const numbers = [note?.shot, note?.pressToFrameUs, note?.sequence, note?.exposureStartUs, note?.exposureEndUs];
  const sizes = [note?.widthPx, note?.heightPx];
  const isRight =
    [...numbers, ...sizes].every(isNumber) &&
    (note.takenAtMs === null || (isNumber(note.takenAtMs) && Math.abs(note.takenAtMs) <= longestTimeMs)) &&
    ['YUYV', 'GREY', 'MJPEG'].includes(note.format) &&
    ['limited', 'full'].includes(note.range);
  return isRight ? note : null;
};

/** Luma of YUYV: the low byte of each pair, as a copy that the engine makes without a loop of ours. */
const evenBytes = (bytes: Uint8Array): Uint8Array => {
  const isAligned = bytes.byteOffset % 2 === 0;
  const { buffer, byteOffset, length } = isAligned ? bytes : bytes.slice();
  const even = new Uint8Array(length >> 1);
  even.set(new Uint16Array(buffer, byteOffset, length >> 1));
  return even;
};

const greyFile = (note: Note, { data, strideBytes, widthPx, heightPx, format }: Frame): FrameFileMade => {
  const pixelBytes = format === 'YUYV' ? 2 : 1;
  const leastBytes = strideBytes * (heightPx - 1) + widthPx * pixelBytes;
  if (data.length < leastBytes)
    return { kind: 'unfit', why: `the frame has ${data.length} bytes, too few for ${widthPx} × ${heightPx}` };
  const used = data.subarray(0, leastBytes);
  const grey = format === 'YUYV' ? evenBytes(used) : used;
  const image = { widthPx, heightPx, bits: 8, strideBytes: strideBytes / pixelBytes, data: grey } as const;
  return { kind: 'made', bytes: writePng({ ...image, text: { [keyword]: JSON.stringify(note) } }, 0) };
};

/** Where our comment may stand: behind SOI, or behind the JFIF segment that wants to be first. */
const commentPlace = (jpeg: Buffer): number | null => {
  if (jpeg.length < 4 || jpeg.readUInt16BE(0) !== 0xffd8) return null;
  return jpeg.readUInt16BE(2) === 0xffe0 && jpeg.length >= 6 ? 4 + jpeg.readUInt16BE(4) : 2;
};

const jpegFile = (note: Note, data: Uint8Array): FrameFileMade => {
  const jpeg = Buffer.from(data.buffer, data.byteOffset, data.length);
  const place = commentPlace(jpeg);
  if (place === null || place > jpeg.length) return { kind: 'unfit', why: 'the frame doesn’t begin as a JPEG does' };
  const text = Buffer.from(`${keyword} ${sealed(JSON.stringify({ ...note, crc: crc32(jpeg) }))}`, 'latin1');
  const head = Buffer.alloc(4);
  head.writeUInt16BE(0xfffe, 0);
  head.writeUInt16BE(2 + text.length, 2);
  return { kind: 'made', bytes: Buffer.concat([jpeg.subarray(0, place), head, text, jpeg.subarray(place)]) };
};

export const makeFrameFile = (shot: number, frame: Frame, about: About): FrameFileMade => {
  const note = noteOf(shot, frame, about);
  return frame.format === 'MJPEG' ? jpegFile(note, frame.data) : greyFile(note, frame);
};

/** `about.json`: for people and other programs; the album itself goes by the frame's file. */
export const aboutText = ({ shot, frame, about, sentAs }: FrameFile): string => {
  const { takenAtMs } = about;
  const takenAt = takenAtMs === null ? null : new Date(takenAtMs).toISOString();
  return `${JSON.stringify({ ...noteOf(shot, frame, about), format: sentAs, takenAt }, null, 2)}\n`;
};

export const frameFileName = (format: PixelFormat): string => (format === 'MJPEG' ? 'frame.jpg' : 'frame.png');
export const frameFileNames: readonly string[] = ['frame.png', 'frame.jpg'];

const fileOf = (note: Note, frame: Pick<Frame, 'format' | 'strideBytes' | 'data'>): FrameFileRead => {
  const { shot, takenAtMs, pressToFrameUs, sequence, exposureStartUs, exposureEndUs, widthPx, heightPx, range } = note;
  const whole = { sequence, exposureStartUs, exposureEndUs, widthPx, heightPx, range, ...frame };
  return { kind: 'read', file: { shot, frame: whole, about: { takenAtMs, pressToFrameUs }, sentAs: note.format } };
};

const damaged = (why: string): FrameFileRead => ({ kind: 'damaged', why });

const readJpeg = (jpeg: Buffer): FrameFileRead => {
  const place = commentPlace(jpeg) ?? jpeg.length;
  const isOurs =
    place + 4 <= jpeg.length &&
    jpeg.readUInt16BE(place) === 0xfffe &&
    jpeg.subarray(place + 4, place + 4 + segmentStart.length).equals(segmentStart);
  if (!isOurs) return damaged('its note is missing');
  const end = place + 2 + jpeg.readUInt16BE(place + 2);
  const text = unsealed(jpeg.toString('latin1', place + 4 + segmentStart.length, end));
  const note = text === null ? null : parseNote(text);
  if (!note) return damaged('its note is damaged');
  const data = Buffer.concat([jpeg.subarray(0, place), jpeg.subarray(end)]);
  if (crc32(data) !== note.crc) return damaged('it fails its checksum');
  return fileOf(note, { format: 'MJPEG', strideBytes: 0, data });
};

/** A frame out of its file, or what is wrong with it. Luma comes back as GREY, whatever it was cut from. */
export const readFrameFile = (bytes: Uint8Array): FrameFileRead => {
  if (bytes.length === 0) return damaged('it is empty');
  if (bytes[0] === 0xff) return readJpeg(Buffer.from(bytes.buffer, bytes.byteOffset, bytes.length));
  const read = readGreyPng(bytes);
  if (read.kind === 'damaged') return read;
  const { widthPx, heightPx, data, texts, bits } = read.png;
  const note = parseNote(texts[keyword]);
  if (!note || bits !== 8) return damaged('its note is missing');
  return fileOf({ ...note, widthPx, heightPx }, { format: 'GREY', strideBytes: widthPx, data });
};
