import { Fault } from '../parts/fault.ts';
import { type Decoded, decodeTurbo } from './jpeg-turbo.ts';

/**
 * Huffman tables K.3 to K.6 of ITU-T T.81, as one DHT segment: frames of webcams leave them out, and every decoder of
 * such a stream is meant to know them.
 */
const bits = {
  dcLuma: [0, 1, 5, 1, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0, 0],
  dcChroma: [0, 3, 1, 1, 1, 1, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0],
  acLuma: [0, 2, 1, 3, 3, 2, 4, 3, 5, 5, 4, 4, 0, 0, 1, 125],
  acChroma: [0, 2, 1, 2, 4, 4, 3, 4, 7, 5, 4, 4, 0, 1, 2, 119],
};

const hex = (text: string): number[] => (text.match(/[0-9a-f]{2}/g) ?? []).map(pair => parseInt(pair, 16));

const acLumaValues = hex(
  `01020300041105122131410613516107227114328191a1082342b1c11552d1f02433627282090a161718191a25262728292a3435363738393a434445464748494a
   535455565758595a636465666768696a737475767778797a838485868788898a92939495969798999aa2a3a4a5a6a7a8a9aab2b3b4b5b6b7b8b9bac2c3c4c5c6c7
   c8c9cad2d3d4d5d6d7d8d9dae1e2e3e4e5e6e7e8e9eaf1f2f3f4f5f6f7f8f9fa`,
);
const acChromaValues = hex(
  `0001020311040521310612415107617113223281081442 91a1b1c109233352f0156272d10a162434e125f11718191a262728292a35363738393a43444546474849
   4a535455565758595a636465666768696a737475767778797a82838485868788898a92939495969798999aa2a3a4a5a6a7a8a9aab2b3b4b5b6b7b8b9bac2c3c4c5
   c6c7c8c9cad2d3d4d5d6d7d8d9dae2e3e4e5e6e7e8e9eaf2f3f4f5f6f7f8f9fa`,
);
const dcValues = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11];

/** `FF C4 01 A2 …`: marker and 418 bytes. */
export const standardHuffmanTables: Uint8Array = Uint8Array.from([
  0xff,
  0xc4,
  0x01,
  0xa2,
  0x00,
  ...bits.dcLuma,
  ...dcValues,
  0x10,
  ...bits.acLuma,
  ...acLumaValues,
  0x01,
  ...bits.dcChroma,
  ...dcValues,
  0x11,
  ...bits.acChroma,
  ...acChromaValues,
]);

const broken = (why: string, cause?: unknown) =>
  new Fault(
    'unreadable',
    `the JPEG picture can’t be decoded: ${why}`,
    'take it again, or save it anew from a viewer that opens it',
    { cause },
  );

export interface JpegHeader {
  widthPx: number;
  heightPx: number;
  components: number;
  hasHuffman: boolean;
  /** Where the first scan's header begins. */
  scanAt: number;
  /** EXIF orientation 1…8. */
  orientation: number;
}

/** Orientation, 1…8, in EXIF data from their TIFF header on; 1 where they don't say or are damaged. */
export const exifOrientation = (exif: Uint8Array): number => {
  const view = new DataView(exif.buffer, exif.byteOffset, exif.byteLength);
  if (view.byteLength < 8) return 1;
  const little = view.getUint16(0) === 0x4949;
  const directory = view.getUint32(4, little);
  if (directory + 2 > view.byteLength) return 1;
  const entries = view.getUint16(directory, little);
  for (let i = 0; i < entries; i++) {
    const entry = directory + 2 + 12 * i;
    if (entry + 12 > view.byteLength) return 1;
    if (view.getUint16(entry, little) === 0x0112) {
      const value = view.getUint16(entry + 8, little);
      return value >= 1 && value <= 8 ? value : 1;
    }
  }
  return 1;
};

/** The same in a JPEG's APP1 segment, which may hold something else. */
const orientationIn = (segment: Uint8Array): number =>
  String.fromCharCode(...segment.subarray(0, 4)) === 'Exif' ? exifOrientation(segment.subarray(6)) : 1;

/** Walks the segments up to the first scan (ITU-T T.81, annex B). */
export const readJpegHeader = (jpeg: Uint8Array): JpegHeader => {
  if (jpeg.length < 4 || jpeg[0] !== 0xff || jpeg[1] !== 0xd8) throw broken('it doesn’t begin like one');
  const header: JpegHeader = { widthPx: 0, heightPx: 0, components: 0, hasHuffman: false, scanAt: 0, orientation: 1 };
  let at = 2;
  while (at + 4 <= jpeg.length) {
    if (jpeg[at] !== 0xff) throw broken(`a segment is damaged at byte ${at}`);
    const marker = jpeg[at + 1];
    if (marker === 0xff) {
      at++;
      continue;
    }
    const length = (jpeg[at + 2] << 8) | jpeg[at + 3];
    if (marker === 0xda) {
      header.scanAt = at;
      if (header.widthPx === 0 || header.heightPx === 0) throw broken('it says no size before its first scan');
      return header;
    }
    if (at + 2 + length > jpeg.length) break;
    if (marker === 0xc4) header.hasHuffman = true;
    if (marker >= 0xc0 && marker <= 0xcf && marker !== 0xc4 && marker !== 0xc8 && marker !== 0xcc) {
      header.heightPx = (jpeg[at + 5] << 8) | jpeg[at + 6];
      header.widthPx = (jpeg[at + 7] << 8) | jpeg[at + 8];
      header.components = jpeg[at + 9];
    }
    if (marker === 0xe1) header.orientation = orientationIn(jpeg.subarray(at + 4, at + 2 + length));
    at += 2 + length;
  }
  throw broken('it ends before its first scan');
};

/** Puts the standard tables in front of the scan where a stream lacks its own. */
export const withHuffmanTables = (jpeg: Uint8Array): Uint8Array => {
  const { hasHuffman, scanAt } = readJpegHeader(jpeg);
  if (hasHuffman) return jpeg;
  const whole = new Uint8Array(jpeg.length + standardHuffmanTables.length);
  whole.set(jpeg.subarray(0, scanAt));
  whole.set(standardHuffmanTables, scanAt);
  whole.set(jpeg.subarray(scanAt), scanAt + standardHuffmanTables.length);
  return whole;
};

const decode = (jpeg: Uint8Array, format: 'grey' | 'rgba'): Decoded => {
  const whole = withHuffmanTables(jpeg);
  // libjpeg fills up what a cut stream lacks with grey: the end marker tells.
  let end = whole.length;
  while (end > 2 && whole[end - 1] === 0) end--;
  if (whole[end - 2] !== 0xff || whole[end - 1] !== 0xd9) throw broken('it is cut short');
  try {
    return decodeTurbo(whole, format);
  } catch (error) {
    throw broken((error as Error).message, error);
  }
};

/** A JPEG's luma, webcam's or file's; good until the next is decoded. Throws a `Fault` when it is damaged or cut short. */
export const decodeJpegLuma = (jpeg: Uint8Array): Decoded => decode(jpeg, 'grey');

/** The same in colour: red, green, blue and 255 for each pixel. */
export const decodeJpegColour = (jpeg: Uint8Array): Decoded => decode(jpeg, 'rgba');
