import { crc32, deflateSync } from 'node:zlib';

export interface PngImage {
  widthPx: number;
  heightPx: number;
  /** 1: packed rows, most significant bit leftmost, 1 is black (as dots are). 8: a byte a pixel, 255 is white. */
  bits: 1 | 8;
  data: Uint8Array;
  /** Bytes from row to row; left out: as few as the width needs. */
  strideBytes?: number;
  /** Written as pixels a metre, so that the picture prints at its real size. */
  dpi?: number;
  /** Text chunks: keyword (Latin, 1 to 79 letters) to text. */
  text?: Readonly<Record<string, string>>;
}

export const pngSignature = Uint8Array.of(0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a);

export const pngChunk = (name: string, body: Uint8Array): Uint8Array => {
  const whole = new Uint8Array(12 + body.length);
  const view = new DataView(whole.buffer);
  view.setUint32(0, body.length);
  for (let i = 0; i < 4; i++) whole[4 + i] = name.charCodeAt(i);
  whole.set(body, 8);
  view.setUint32(8 + body.length, crc32(whole.subarray(4, 8 + body.length)));
  return whole;
};

const numbers = (length: number, fill: (view: DataView) => void): Uint8Array => {
  const bytes = new Uint8Array(length);
  fill(new DataView(bytes.buffer));
  return bytes;
};

/** Pixels a metre, so that a general program prints at real size. */
export const printSize = (dpi: number): Uint8Array =>
  pngChunk(
    'pHYs',
    numbers(9, view => {
      view.setUint32(0, Math.round(dpi / 0.0254));
      view.setUint32(4, Math.round(dpi / 0.0254));
      view.setUint8(8, 1);
    }),
  );

/** International text chunk, uncompressed, in UTF-8. */
export const textChunk = (keyword: string, text: string): Uint8Array =>
  pngChunk(
    'iTXt',
    Buffer.concat([Buffer.from(keyword, 'latin1'), Uint8Array.of(0, 0, 0, 0, 0), Buffer.from(text, 'utf8')]),
  );

/** A grey PNG (ISO/IEC 15948) of 1 or 8 bits. `level` as in zlib: 1 is quick, 0 only packs: rows then stay as they are. */
export const writePng = (image: PngImage, level = 6): Uint8Array => {
  const { widthPx, heightPx, bits, data, dpi, text = {} } = image;
  const rowBytes = bits === 1 ? (widthPx + 7) >> 3 : widthPx;
  const stride = image.strideBytes ?? rowBytes;
  const up = bits === 8 && level > 0 ? 2 : 0;
  const raw = new Uint8Array((rowBytes + 1) * heightPx);
  for (let y = 0; y < heightPx; y++) {
    const to = y * (rowBytes + 1);
    const from = y * stride;
    raw[to] = y === 0 ? 0 : up;
    if (bits === 1) for (let x = 0; x < rowBytes; x++) raw[to + 1 + x] = data[from + x] ^ 0xff;
    else if (y === 0 || up === 0) raw.set(data.subarray(from, from + rowBytes), to + 1);
    else for (let x = 0; x < rowBytes; x++) raw[to + 1 + x] = data[from + x] - data[from - stride + x];
  }
  const parts = [
    pngSignature,
    pngChunk(
      'IHDR',
      numbers(13, view => {
        view.setUint32(0, widthPx);
        view.setUint32(4, heightPx);
        view.setUint8(8, bits);
      }),
    ),
  ];
  if (dpi) parts.push(printSize(dpi));
  for (const [keyword, words] of Object.entries(text)) parts.push(textChunk(keyword, words));
  parts.push(pngChunk('IDAT', deflateSync(raw, { level })), pngChunk('IEND', new Uint8Array(0)));
  return Buffer.concat(parts);
};
