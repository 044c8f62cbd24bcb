import { crc32, createInflate } from 'node:zlib';
import { Fault } from '../parts/fault.ts';
import type { Grey } from './grey.ts';

/**
 * Large scans row by row: a page of 1,200 dpi has 139 million pixels, which decoded as a whole would take more than a
 * gigabyte. What is finer than any print needs is reduced while it is read.
 */

/** Beyond this many pixels a scan is reduced to a half, a third and so on. */
const mostPixels = 100_000_000;
/** Sides beyond this are damage, not paper. */
const longestSide = 400_000;

/** Channels of PNG's colour types (ISO/IEC 15948, table 11.1) that are read here; palettes are not. */
const channelsOf: Readonly<Record<number, number>> = { 0: 1, 2: 3, 4: 2, 6: 4 };

interface Header {
  widthPx: number;
  heightPx: number;
  /** Bytes a channel: 1 or 2. */
  depthBytes: number;
  channels: number;
}

const damaged = (name: string, why: string) =>
  new Fault(
    'unreadable',
    `${name}: the PNG can’t be decoded (${why})`,
    'copy it again from where it came, or scan anew',
  );

/** Header of the kinds that scanners write; null for others, which are small. */
const headerOf = (bytes: Uint8Array): Header | null => {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  if (bytes.length < 33 || view.getUint32(0) !== 0x89504e47 || view.getUint32(12) !== 0x49484452) return null;
  const [depth, colour, interlace] = [bytes[24], bytes[25], bytes[28]];
  const channels = channelsOf[colour];
  if ((depth !== 8 && depth !== 16) || channels === undefined || interlace !== 0) return null;
  const [widthPx, heightPx] = [view.getUint32(16), view.getUint32(20)];
  if (widthPx === 0 || heightPx === 0 || widthPx > longestSide || heightPx > longestSide) return null;
  return { widthPx, heightPx, depthBytes: depth / 8, channels };
};

/** Compressed pixels, chunk by chunk, each checked. */
const compressed = function* (bytes: Uint8Array, name: string): Generator<Uint8Array> {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  for (let at = 8; at + 12 <= bytes.length; ) {
    const length = view.getUint32(at);
    const type = view.getUint32(at + 4);
    if (at + 12 + length > bytes.length) break;
    if (type === 0x49454e44) return;
    if (type === 0x49444154) {
      if (crc32(bytes.subarray(at + 4, at + 8 + length)) !== view.getUint32(at + 8 + length))
        throw damaged(name, 'a checksum is wrong');
      yield bytes.subarray(at + 8, at + 8 + length);
    }
    at += 12 + length;
  }
  throw damaged(name, 'it is cut short');
};

/** Undoes a row's filter (ISO/IEC 15948, clause 9) in place. */
const unfilter = (filter: number, row: Uint8Array, above: Uint8Array, step: number): boolean => {
  const n = row.length;
  if (filter === 1) for (let i = step; i < n; i++) row[i] += row[i - step];
  else if (filter === 2) for (let i = 0; i < n; i++) row[i] += above[i];
  else if (filter === 3) {
    for (let i = 0; i < step; i++) row[i] += above[i] >> 1;
    for (let i = step; i < n; i++) row[i] += (row[i - step] + above[i]) >> 1;
  } else if (filter === 4) {
    for (let i = 0; i < step; i++) row[i] += above[i];
    for (let i = step; i < n; i++) {
      const [a, b, c] = [row[i - step], above[i], above[i - step]];
      const [pa, pb, pc] = [Math.abs(b - c), Math.abs(a - c), Math.abs(a + b - 2 * c)];
      row[i] += pa <= pb && pa <= pc ? a : pb <= pc ? b : c;
    }
  } else return filter === 0;
  return true;
};

/** Adds a row's grey (BT.601, what shines through over white) into sums of `factor` pixels. */
const addGrey = (row: Uint8Array, { channels, depthBytes }: Header, factor: number, sums: Uint32Array) => {
  const step = channels * depthBytes;
  const colour = channels >= 3;
  const alphaAt = channels === 2 || channels === 4 ? (channels - 1) * depthBytes : -1;
  let at = 0;
  for (let x = 0; x < sums.length; x++)
    for (let k = 0; k < factor; k++, at += step) {
      let grey = colour
        ? (row[at] * 19595 + row[at + depthBytes] * 38470 + row[at + 2 * depthBytes] * 7471 + 32768) >> 16
        : row[at];
      if (alphaAt >= 0) grey = (255 + ((grey - 255) * row[at + alphaAt]) / 255) | 0;
      sums[x] += grey;
    }
};

/**
 * Grey pixels of a PNG with 8 or 16 bits a channel, in memory that all threads see; null where it is another kind of file.
 * Throws a `Fault` where it is damaged.
 * @param pixelsAtMost What has more is reduced by a whole number, each pixel the mean of those it stands for.
 */
export const readPage = async (bytes: Uint8Array, name: string, pixelsAtMost = mostPixels): Promise<Grey | null> => {
  const header = headerOf(bytes);
  if (!header) return null;
  const step = header.channels * header.depthBytes;
  const factor = Math.ceil(Math.sqrt((header.widthPx * header.heightPx) / pixelsAtMost));
  const [widthPx, heightPx] = [Math.floor(header.widthPx / factor), Math.floor(header.heightPx / factor)];
  const data = new Uint8Array(new SharedArrayBuffer(widthPx * heightPx));
  const sums = new Uint32Array(widthPx);
  const area = factor * factor;
  let row = new Uint8Array(header.widthPx * step);
  let above = new Uint8Array(header.widthPx * step);
  let [filter, filled, y] = [-1, 0, 0];
  const endRow = () => {
    if (!unfilter(filter, row, above, step)) throw damaged(name, 'a row has no known filter');
    const to = Math.floor(y / factor);
    if (to < heightPx) {
      addGrey(row, header, factor, sums);
      if (y % factor === factor - 1) {
        for (let x = 0; x < widthPx; x++) data[to * widthPx + x] = sums[x] / area;
        sums.fill(0);
      }
    }
    [row, above] = [above, row];
    [filter, filled] = [-1, 0];
    y++;
  };
  const inflate = createInflate({ chunkSize: 1 << 18 });
  const feed = async () => {
    for (const part of compressed(bytes, name))
      if (!inflate.write(part)) await new Promise<void>(resolve => inflate.once('drain', () => resolve()));
    inflate.end();
  };
  const feeding = feed().catch((error: Error) => void inflate.destroy(error));
  try {
    for await (const chunk of inflate as AsyncIterable<Uint8Array>)
      for (let at = 0; at < chunk.length && y < header.heightPx; ) {
        if (filter < 0) {
          filter = chunk[at++];
          continue;
        }
        const take = Math.min(row.length - filled, chunk.length - at);
        row.set(chunk.subarray(at, at + take), filled);
        filled += take;
        at += take;
        if (filled === row.length) endRow();
      }
  } catch (error) {
    throw error instanceof Fault ? error : damaged(name, (error as Error).message);
  }
  await feeding;
  if (y < header.heightPx) throw damaged(name, 'it is cut short');
  return { widthPx, heightPx, data };
};
