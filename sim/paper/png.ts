import { deflateSync } from 'node:zlib';
import { pngChunk, pngSignature, printSize } from '../../src/picture/png.ts';

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
  const rows = new Uint8Array((widthPx + 1) * heightPx);
  for (let y = 0; y < heightPx; y++) rows.set(data.subarray(y * widthPx, (y + 1) * widthPx), y * (widthPx + 1) + 1);
  const parts = [
    pngSignature,
    pngChunk('IHDR', header),
    pngChunk('PLTE', palette),
    printSize(dpi),
    pngChunk('IDAT', deflateSync(rows, { level: 6 })),
    pngChunk('IEND', new Uint8Array(0)),
  ];
  return new Uint8Array(Buffer.concat(parts));
};
