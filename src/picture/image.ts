import { PNG } from 'pngjs';
import { Fault } from '../parts/fault.ts';
import { decodeJpegLuma, exifOrientation, readJpegHeader } from './jpeg.ts';
import { type Luma, lumaOfRgba } from './luma.ts';

/** Larger pictures are refused: decoded, they would not fit the memory of a small board. */
const mostPixels = 99_999_999;

const refuse = (name: string, why: string, mend: string, cause?: unknown) =>
  new Fault('unreadable', `${name}: ${why}`, mend, { cause });

const checkSize = (name: string, widthPx: number, heightPx: number) => {
  if (widthPx * heightPx > mostPixels)
    throw refuse(name, `${widthPx} × ${heightPx} pixels are 100 megapixels or more`, 'scale it down first');
};

/** A copy of a decoded picture, turned upright by its EXIF orientation (1…8). */
const upright = ({ widthPx: w, heightPx: h, data }: Luma, orientation: number): Luma => {
  if (orientation === 1) return { widthPx: w, heightPx: h, data: data.slice() };
  const swapped = orientation >= 5;
  const [outWidth, outHeight] = swapped ? [h, w] : [w, h];
  const out = new Uint8Array(data.length);
  for (let y = 0; y < h; y++)
    for (let x = 0; x < w; x++) {
      const flipX = orientation === 2 || orientation === 3 || orientation === 7 || orientation === 8;
      const flipY = orientation === 3 || orientation === 4 || orientation === 6 || orientation === 7;
      const [u, v] = [flipX ? w - 1 - x : x, flipY ? h - 1 - y : y];
      out[swapped ? u * outWidth + v : v * outWidth + u] = data[y * w + x];
    }
  return { widthPx: outWidth, heightPx: outHeight, data: out };
};

/** What the eXIf chunk of a PNG (third edition of its specification) says of its orientation. */
const pngOrientation = (png: Uint8Array): number => {
  const view = new DataView(png.buffer, png.byteOffset, png.byteLength);
  for (let at = 8; at + 12 <= png.length; at += 12 + view.getUint32(at))
    if (view.getUint32(at + 4) === 0x65584966)
      return exifOrientation(png.subarray(at + 8, at + 8 + view.getUint32(at)));
  return 1;
};

/** A PNG's decoded picture, turned upright by what its bytes say. */
export const uprightPng = (luma: Luma, png: Uint8Array): Luma => {
  const orientation = pngOrientation(png);
  return orientation === 1 ? luma : upright(luma, orientation);
};

const fromPng = (bytes: Uint8Array, name: string): Luma => {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  if (bytes.length < 33) throw refuse(name, 'the PNG is cut short', 'copy it again from where it came');
  checkSize(name, view.getUint32(16), view.getUint32(20));
  let png: PNG;
  try {
    png = PNG.sync.read(Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength), { checkCRC: true });
  } catch (error) {
    // The decoder's own words for a file that was cut speak of its insides.
    const said = (error as Error).message;
    const why = said.includes('read requests') ? 'it ends too early' : said;
    throw refuse(name, `the PNG can’t be decoded (${why})`, 'copy it again from where it came, or save it anew', error);
  }
  // What shines through is paper.
  const { data } = png;
  for (let p = 0; p < data.length; p += 4) {
    const alpha = data[p + 3];
    if (alpha === 255) continue;
    for (let c = 0; c < 3; c++) data[p + c] = 255 + ((data[p + c] - 255) * alpha) / 255;
  }
  return uprightPng(lumaOfRgba(png.width, png.height, data), bytes);
};

const fromJpeg = (bytes: Uint8Array, name: string): Luma => {
  try {
    const { widthPx, heightPx, components, orientation } = readJpegHeader(bytes);
    checkSize(name, widthPx, heightPx);
    if (components === 4)
      throw refuse(name, 'this JPEG is in CMYK, for a printing press', 'convert it to RGB or grey first');
    return upright(decodeJpegLuma(bytes), orientation);
  } catch (error) {
    if (error instanceof Fault && !error.message.startsWith(name)) throw refuse(name, error.message, error.mend, error);
    throw error;
  }
};

/** What people bring that isn't read: how it starts, and how to get at a picture that is. */
const otherKinds: readonly { pattern: RegExp; what: string; mend: string }[] = [
  {
    pattern: /^(II\*\0|MM\0\*)/,
    what: 'this is a TIFF',
    mend: 'let the scanner write PNG, or convert it: magick scan.tif scan.png',
  },
  {
    pattern: /^%PDF/,
    what: 'this is a PDF',
    mend: 'let the scanner write PNG, or take the scans out of it unharmed: pdfimages -png scan.pdf page',
  },
  { pattern: /^....ftyp(hei|mif)/, what: 'this is a HEIF photo', mend: 'let the phone save it as JPEG' },
  { pattern: /^GIF8/, what: 'this is a GIF', mend: 'convert its first picture to PNG: magick moving.gif[0] photo.png' },
  { pattern: /^BM/, what: 'this is a BMP', mend: 'convert it to PNG: magick photo.bmp photo.png' },
  { pattern: /^....ftypavif/, what: 'this is an AVIF', mend: 'convert it to PNG: magick photo.avif photo.png' },
  { pattern: /^RIFF....WEBP/, what: 'this is a WebP', mend: 'convert it to PNG: magick photo.webp photo.png' },
];

/**
 * Full-range luma of a photo or scan: PNG of any kind (palette, 16 bit, alpha over white) or JPEG, turned upright by its
 * EXIF orientation. Throws a `Fault` that names the file where it is damaged, too large or of another kind.
 * @param name What the file is called in messages.
 */
export const decodePhoto = (bytes: Uint8Array, name: string): Luma => {
  if (bytes.length === 0) throw refuse(name, 'the file is empty', 'copy it again from where it came');
  if (bytes[0] === 0x89 && bytes[1] === 0x50) return fromPng(bytes, name);
  if (bytes[0] === 0xff && bytes[1] === 0xd8) return fromJpeg(bytes, name);
  const start = String.fromCharCode(...bytes.subarray(0, 12));
  const kind = otherKinds.find(({ pattern }) => pattern.test(start));
  throw refuse(name, kind?.what ?? 'neither a PNG nor a JPEG', kind?.mend ?? 'convert it to one of these');
};
