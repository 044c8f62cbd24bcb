import { crc32, deflateSync, inflateSync } from 'node:zlib';

/** Grey as PNG has it: 8 bits a pixel, or 1 bit a pixel with 1 for white. Rows are packed without gaps. */
export interface GreyImage {
  widthPx: number;
  heightPx: number;
  bits: 1 | 8;
  data: Uint8Array;
}

export interface GreyPng extends GreyImage {
  /** Text chunks (tEXt) by keyword. */
  texts: Record<string, string>;
}

export type PngRead = { kind: 'read'; png: GreyPng } | { kind: 'damaged'; why: string };

const signature = Uint8Array.of(0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a);

/** PNG (ISO/IEC 15948) 5.3: length, type, data, CRC over type and data. */
const chunk = (type: string, data: Uint8Array): Buffer => {
  const bytes = Buffer.alloc(12 + data.length);
  bytes.writeUInt32BE(data.length, 0);
  bytes.write(type, 4, 'latin1');
  bytes.set(data, 8);
  bytes.writeUInt32BE(crc32(bytes.subarray(4, 8 + data.length)), 8 + data.length);
  return bytes;
};

const rowBytes = ({ widthPx, bits }: Pick<GreyImage, 'widthPx' | 'bits'>): number => Math.ceil((widthPx * bits) / 8);

/**
 * Rows that a writer fills, each behind its filter byte (0, none), as they are compressed.
 * `row(y, into, at)` writes row `y` into `into` from `at`.
 */
export const encodeGreyPng = (
  { widthPx, heightPx, bits }: Omit<GreyImage, 'data'>,
  row: (y: number, into: Uint8Array, at: number) => void,
  { texts = {}, level }: { texts?: Record<string, string>; level: number },
): Uint8Array => {
  const width = rowBytes({ widthPx, bits });
  const rows = new Uint8Array(heightPx * (width + 1));
  for (let y = 0; y < heightPx; y++) row(y, rows, y * (width + 1) + 1);
  const header = Buffer.alloc(13);
  header.writeUInt32BE(widthPx, 0);
  header.writeUInt32BE(heightPx, 4);
  header[8] = bits;
  return Buffer.concat([
    signature,
    chunk('IHDR', header),
    ...Object.entries(texts).map(([keyword, text]) => chunk('tEXt', Buffer.from(`${keyword}\0${text}`, 'latin1'))),
    chunk('IDAT', deflateSync(rows, { level, chunkSize: 65_536 })),
    chunk('IEND', new Uint8Array(0)),
  ]);
};

const damaged = (why: string): PngRead => ({ kind: 'damaged', why });
const largestSide = 16_384;

/** Reads what `encodeGreyPng` writes, and finds any damage to it: each chunk has its CRC. */
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
    else if (type === 'tEXt') {
      const gap = data.indexOf(0);
      texts[data.toString('latin1', 0, gap)] = data.toString('latin1', gap + 1);
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
    if (rows[from] !== 0) return damaged('its rows are filtered; ours aren’t');
    data.set(rows.subarray(from + 1, from + 1 + width), y * width);
  }
  return { kind: 'read', png: { widthPx, heightPx, bits, data, texts } };
};
