import { encode } from 'jpeg-js';
import { describe, expect, it } from 'vitest';
import { Fault } from '../../src/parts/fault.ts';
import { decodePhoto } from '../../src/picture/image.ts';
import {
  decodeJpegColour,
  decodeJpegLuma,
  readJpegHeader,
  standardHuffmanTables,
  withHuffmanTables,
} from '../../src/picture/jpeg.ts';
import { lumaOf } from '../../src/picture/luma.ts';

const [width, height] = [48, 32];
const rgba = new Uint8Array(width * height * 4);
for (let i = 0; i < width * height; i++) rgba.set([(i % width) * 5, Math.floor(i / width) * 7, 90, 255], 4 * i);
const jpeg = new Uint8Array(encode({ width, height, data: rgba }, 90).data);

const segmentsOf = (bytes: Uint8Array) => {
  const found: { marker: number; at: number; length: number }[] = [];
  for (let at = 2; bytes[at + 1] !== 0xda; at += found[found.length - 1].length + 2)
    found.push({ marker: bytes[at + 1], at, length: (bytes[at + 2] << 8) | bytes[at + 3] });
  return found;
};
const without = (bytes: Uint8Array, marker: number) => {
  let out = bytes;
  for (;;) {
    const segment = segmentsOf(out).find(one => one.marker === marker);
    if (!segment) return out;
    out = Uint8Array.from([...out.subarray(0, segment.at), ...out.subarray(segment.at + 2 + segment.length)]);
  }
};
const bare = without(jpeg, 0xc4);
const exif = (orientation: number, big = true): Uint8Array => {
  const u16 = (v: number) => (big ? [v >> 8, v & 255] : [v & 255, v >> 8]);
  const u32 = (v: number) => (big ? [0, 0, ...u16(v)] : [...u16(v), 0, 0]);
  const body = [0x45, 0x78, 0x69, 0x66, 0, 0, ...(big ? [0x4d, 0x4d] : [0x49, 0x49]), ...u16(42), ...u32(8)];
  body.push(...u16(1), ...u16(0x0112), ...u16(3), ...u32(1), ...u16(orientation), 0, 0, ...u32(0));
  return Uint8Array.from([0xff, 0xd8, 0xff, 0xe1, 0, body.length + 2, ...body, ...jpeg.subarray(2)]);
};

describe('Huffman tables K.3 to K.6 of ITU-T T.81', () => {
  it('are one segment, FF C4 01 A2, of 418 bytes behind its marker', () => {
    expect([...standardHuffmanTables.subarray(0, 4)]).toEqual([0xff, 0xc4, 0x01, 0xa2]);
    expect(standardHuffmanTables.length).toBe(420);
  });
  it('are the ones that another encoder writes (jpeg-js)', () => {
    const [segment] = segmentsOf(jpeg).filter(({ marker }) => marker === 0xc4);
    const theirs = jpeg.subarray(segment.at, segment.at + 2 + segment.length);
    const tables = (bytes: Uint8Array) => {
      const found = new Map<number, string>();
      for (let at = 4; at < bytes.length; ) {
        const total = bytes.subarray(at + 1, at + 17).reduce((a, b) => a + b, 0);
        found.set(bytes[at], bytes.subarray(at + 1, at + 17 + total).join(' '));
        at += 17 + total;
      }
      return [...found].sort(([a], [b]) => a - b);
    };
    expect(tables(standardHuffmanTables)).toEqual(tables(theirs));
  });
  it('are put in where a webcam leaves them out: the same picture comes out', () => {
    expect(readJpegHeader(bare).hasHuffman).toBe(false);
    const whole = decodeJpegColour(jpeg).data.slice();
    expect(decodeJpegColour(bare).data).toEqual(whole);
    expect(withHuffmanTables(jpeg)).toBe(jpeg);
  });
  it('a webcam’s frame may end in zeros', () => {
    const padded = new Uint8Array(bare.length + 64);
    padded.set(bare);
    const stamps = { sequence: 1, exposureStartUs: 0, exposureEndUs: 1 };
    const frame = {
      ...stamps,
      format: 'MJPEG',
      widthPx: width,
      heightPx: height,
      strideBytes: 0,
      range: 'full',
    } as const;
    const luma = lumaOf({ ...frame, data: padded });
    expect([luma.widthPx, luma.heightPx]).toEqual([width, height]);
    expect(luma.data[20]).toBeGreaterThan(luma.data[2]);
  });
});

describe('EXIF orientation', () => {
  const grey = (bytes: Uint8Array) => decodePhoto(bytes, 'x.jpg');
  const flat = grey(jpeg);
  const at = (x: number, y: number) => flat.data[y * width + x];
  /** Where the upper left pixel of the stored picture is to be seen, by the standard's table of the eight values. */
  it.each<[number, [number, number]]>([
    [1, [0, 0]],
    [2, [width - 1, 0]],
    [3, [width - 1, height - 1]],
    [4, [0, height - 1]],
    [5, [0, 0]],
    [6, [height - 1, 0]],
    [7, [height - 1, width - 1]],
    [8, [0, width - 1]],
  ])('%i', (orientation, [x, y]) => {
    for (const big of [true, false]) {
      const turned = grey(exif(orientation, big));
      expect([turned.widthPx, turned.heightPx]).toEqual(orientation >= 5 ? [height, width] : [width, height]);
      expect(turned.data[y * turned.widthPx + x]).toBe(at(0, 0));
    }
  });
  it('damaged, it counts as upright', () => {
    for (const orientation of [0, 9, 77]) expect(grey(exif(orientation)).widthPx).toBe(width);
    const cut = exif(6);
    cut[16] = 0x7f;
    expect(grey(cut).widthPx).toBe(width);
  });
});

describe('damaged pictures are Faults that say what is wrong', () => {
  it.each<[string, Uint8Array, RegExp]>([
    ['not a JPEG', Uint8Array.of(1, 2, 3, 4, 5), /doesn’t begin like one/],
    ['nothing but its start', jpeg.subarray(0, 30), /ends before its first scan/],
    ['cut in the middle', jpeg.subarray(0, jpeg.length - 40), /cut short/],
    ['a segment overwritten', Uint8Array.from(jpeg, (byte, i) => (i === 20 ? 0x12 : byte)), /damaged|can’t be decoded/],
    ['no size before the scan', without(jpeg, 0xc0), /no size/],
  ])('%s', (_, bytes, words) => {
    expect(() => decodeJpegLuma(bytes)).toThrow(Fault);
    expect(() => decodeJpegLuma(bytes)).toThrow(words);
  });
  it('no cut of a webcam’s frame passes for a picture', () => {
    for (let length = 0; length < bare.length - 1; length += 7)
      expect(() => decodeJpegLuma(bare.subarray(0, length))).toThrow(Fault);
  });
});
