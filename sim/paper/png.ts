import { deflateSync } from 'node:zlib';

const crcTable = new Uint32Array(256).map((_, n) => {
  let c = n;
  for (let bit = 0; bit < 8; bit++) c = c & 1 ? (c >>> 1) ^ 0xedb88320 : c >>> 1;
  return c;
});
const crc32 = (bytes: Uint8Array): number => {
  let c = 0xffffffff;
  for (let i = 0; i < bytes.length; i++) c = (c >>> 8) ^ crcTable[(c ^ bytes[i]) & 0xff];
  return (c ^ 0xffffffff) >>> 0;
};
const chunk = (kind: string, body: Uint8Array): Uint8Array => {
  const bytes = new Uint8Array(12 + body.length);
  const view = new DataView(bytes.buffer);
  view.setUint32(0, body.length);
  for (let i = 0; i < 4; i++) bytes[4 + i] = kind.charCodeAt(i);
  bytes.set(body, 8);
  view.setUint32(8 + body.length, crc32(bytes.subarray(4, 8 + body.length)));
  return bytes;
};

export interface PaletteImage {
  widthPx: number;
  heightPx: number;
  /** A palette index a pixel, row by row. */
  data: Uint8Array;
}

/** PNG with a palette (ISO/IEC 15948, colour type 3); `palette` is red, green, blue a colour, `dpi` its print size. */
export const encodePalettePng = (
  { widthPx, heightPx, data }: PaletteImage,
  palette: Uint8Array,
  dpi: number,
): Uint8Array => {
  const header = new Uint8Array(13);
  const view = new DataView(header.buffer);
  view.setUint32(0, widthPx);
  view.setUint32(4, heightPx);
  header.set([8, 3, 0, 0, 0], 8);
  const physical = new Uint8Array(9);
  const perMetre = Math.round(dpi / 0.0254);
  new DataView(physical.buffer).setUint32(0, perMetre);
  new DataView(physical.buffer).setUint32(4, perMetre);
  physical[8] = 1;
  const rows = new Uint8Array((widthPx + 1) * heightPx);
  for (let y = 0; y < heightPx; y++) rows.set(data.subarray(y * widthPx, (y + 1) * widthPx), y * (widthPx + 1) + 1);
  const parts = [
    Uint8Array.of(0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a),
    chunk('IHDR', header),
    chunk('PLTE', palette),
    chunk('pHYs', physical),
    chunk('IDAT', deflateSync(rows, { level: 6 })),
    chunk('IEND', new Uint8Array(0)),
  ];
  return new Uint8Array(Buffer.concat(parts));
};
