import { crc32, inflateSync } from 'node:zlib';

/** Grey as PNG has it: 8 bits a pixel, or 1 bit a pixel with 1 for white. Rows are packed without gaps. */
interface GreyImage {
  widthPx: number;
  heightPx: number;
  bits: 1 | 8;
  data: Uint8Array;
}

export interface GreyPng extends GreyImage {
  /** Text chunks by keyword. */
  texts: Record<string, string>;
}

export type PngRead = { kind: 'read'; png: GreyPng } | { kind: 'damaged'; why: string };

const signature = Uint8Array.of(0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a);

const rowBytes = ({ widthPx, bits }: Pick<GreyImage, 'widthPx' | 'bits'>): number => Math.ceil((widthPx * bits) / 8);

const damaged = (why: string): PngRead => ({ kind: 'damaged', why });
const largestSide = 16_384;

/** Reads what `writePng` writes, and finds any damage to it: each chunk has its CRC (ISO/IEC 15948, 5.3). */
export const readGreyPng = (bytes: Uint8Array): PngRead => {
  const file = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.length);
  if (!file.subarray(0, 8).equals(signature)) return damaged('it doesn’t begin as a PNG does');
  const texts: Record<string, string> = Object.create(null);
  let header: Buffer | null = null;
  const parts: Buffer[] = [];
  let at = 8;
  for (let type = ''; type !== 'IEND'; ) {
    if (at + 12 > file.length) return damaged('it is cut short');
    const length = file.readUInt32BE(at);
    const end = at + 12 + length;
    type = file.toString('latin1', at + 4, at + 8);
    if (end > file.length) return damaged('it is cut short');
    if (crc32(file.subarray(at + 4, end - 4)) !== file.readUInt32BE(end - 4))
      return damaged(`its ${/^[A-Za-z]{4}$/.test(type) ? type : 'next'} chunk fails its checksum`);
    const data = file.subarray(at + 8, end - 4);
    if (type === 'IHDR') header = data;
    else if (type === 'IDAT') parts.push(data);
    else if (type === 'iTXt') {
      // Keyword, 0, not compressed, no language, keyword not translated.
      const gap = data.indexOf(0);
      texts[data.toString('latin1', 0, gap)] = data.toString('utf8', gap + 5);
    }
    at = end;
  }
  if (at !== file.length) return damaged('something follows its end');
  if (header?.length !== 13) return damaged('it has no header');
  const [widthPx, heightPx, bits] = [header.readUInt32BE(0), header.readUInt32BE(4), header[8]];
  const fits = widthPx > 0 && heightPx > 0 && Math.max(widthPx, heightPx) <= largestSide;
  if (!fits || (bits !== 1 && bits !== 8) || header.subarray(9).some(byte => byte !== 0))
    return damaged('it isn’t one of ours: grey of 1 or 8 bits, not interlaced');
  const width = rowBytes({ widthPx, bits });
  let rows: Uint8Array;
  try {
    rows = inflateSync(Buffer.concat(parts), { maxOutputLength: heightPx * (width + 1) });
  } catch {
    return damaged('its pixels can’t be unpacked');
  }
  if (rows.length !== heightPx * (width + 1)) return damaged('pixels are missing');
  const data = new Uint8Array(heightPx * width);
  for (let y = 0; y < heightPx; y++) {
    const from = y * (width + 1);
    const filter = rows[from];
    if (filter !== 0 && (filter !== 2 || y === 0)) return damaged('its rows are filtered in a way that ours aren’t');
    data.set(rows.subarray(from + 1, from + 1 + width), y * width);
    if (filter === 2) for (let at = y * width; at < (y + 1) * width; at++) data[at] += data[at - width];
  }
  return { kind: 'read', png: { widthPx, heightPx, bits, data, texts } };
};
