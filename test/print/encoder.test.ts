import ReceiptPrinterEncoder from '@point-of-sale/receipt-printer-encoder';
import { describe, expect, it } from 'vitest';
import type { Dots } from '../../src/parts/darkroom.ts';
import { powerOf } from '../../src/print/head.ts';
import { raster } from '../../src/print/language.ts';
import { planSheet } from '../../src/print/plan.ts';
import { wireOf } from '../../src/print/wire.ts';
import { configOf, noise, type Part, profileOf } from './desk.ts';

/** Bytes that a general-purpose receipt encoder from the npm registry (MIT) makes of the same dots; it cuts at 255 rows. */
const encodedElsewhere = (dots: Dots, imageMode: 'raster' | 'column'): Buffer => {
  const { widthDots, heightDots, strideBytes, data } = dots;
  const pixels = new Uint8ClampedArray(widthDots * heightDots * 4).fill(255);
  for (let y = 0; y < heightDots; y++)
    for (let x = 0; x < widthDots; x++)
      if (data[y * strideBytes + (x >> 3)] & (0x80 >> (x & 7)))
        pixels.fill(0, (y * widthDots + x) * 4, (y * widthDots + x) * 4 + 3);
  const encoder = new ReceiptPrinterEncoder({ language: 'esc-pos', imageMode, columns: 48 });
  const image = { data: pixels, width: widthDots, height: heightDots };
  return Buffer.from(encoder.image(image as never, widthDots, heightDots, 'threshold', 128).encode());
};

const planned = (dots: Dots, image: 'raster' | 'column'): Buffer => {
  const part: Part<Parameters<typeof profileOf>[0]> = { bufferBytes: 4096, commands: { image, rasterRows: 24 } };
  const profile = profileOf(part);
  const config = configOf({ printer: { baud: 1_000_000 } });
  const situation = {
    profile,
    power: powerOf(profile, config.supply),
    wire: wireOf(profile, config.printer),
    aboveK: 0,
  };
  return Buffer.from(planSheet({ pages: [dots], feedLines: 0 }, situation).bytes);
};

describe('another encoder', () => {
  it.each([
    [384, 24],
    [384, 240],
    [576, 48],
  ])('makes the same raster command of %i × %i dots', (widthDots, heightDots) => {
    const dots = noise(widthDots, heightDots, 0.4);
    const theirs = encodedElsewhere(dots, 'raster');
    const ours = Buffer.from(raster(dots.strideBytes, heightDots, dots.data));
    const at = theirs.indexOf(Uint8Array.of(0x1d, 0x76, 0x30));
    expect(at).toBeGreaterThanOrEqual(0);
    expect(Buffer.compare(theirs.subarray(at, at + ours.length), ours)).toBe(0);
  });

  it('makes the same bands of a whole plan', () => {
    const dots = noise(384, 24, 0.4);
    const theirs = encodedElsewhere(dots, 'raster');
    const at = theirs.indexOf(Uint8Array.of(0x1d, 0x76, 0x30));
    expect(planned(dots, 'raster').includes(theirs.subarray(at, at + 8 + 1152))).toBe(true);
  });

  it('makes the same column command', () => {
    const dots = noise(384, 24, 0.4);
    const theirs = encodedElsewhere(dots, 'column');
    const at = theirs.indexOf(Uint8Array.of(0x1b, 0x2a, 0x21));
    expect(at).toBeGreaterThanOrEqual(0);
    expect(planned(dots, 'column').includes(theirs.subarray(at, at + 5 + 3 * 384))).toBe(true);
  });
});
