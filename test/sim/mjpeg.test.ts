import { decode as decodeWasm } from '@cwasm/jpeg-turbo';
import jpeg from 'jpeg-js';
import { describe, expect, it } from 'vitest';
import { encodeJpeg } from '../../sim/mjpeg.ts';
import { chance } from '../../sim/random.ts';

const ramp = (widthPx: number, heightPx: number) => {
  const luck = chance(3);
  return Uint8Array.from({ length: widthPx * heightPx }, (_, i) => {
    const x = i % widthPx;
    const y = Math.floor(i / widthPx);
    return Math.max(0, Math.min(255, 128 + 100 * Math.sin(x / 9) * Math.cos(y / 7) + luck.normal() * 3));
  });
};

const meanError = (luma: Uint8Array, rgba: Uint8Array | Uint8ClampedArray) =>
  luma.reduce(
    (sum, y, i) => sum + Math.abs(0.299 * rgba[i * 4] + 0.587 * rgba[i * 4 + 1] + 0.114 * rgba[i * 4 + 2] - y),
    0,
  ) / luma.length;

// Two general-purpose decoders (a wasm build of libjpeg-turbo, and jpeg-js) read what the virtual webcam writes.
describe('the virtual webcam’s JPEG', () => {
  it.each([
    [64, 48],
    [50, 37],
    [333, 20],
  ])('%i×%i reads back the same in two foreign decoders', (widthPx, heightPx) => {
    const luma = ramp(widthPx, heightPx);
    const bytes = encodeJpeg(luma, widthPx, heightPx, { cb: 128, cr: 128 }, { quality: 95 });
    const wasm = decodeWasm(bytes);
    expect([wasm.width, wasm.height]).toEqual([widthPx, heightPx]);
    expect(meanError(luma, wasm.data)).toBeLessThan(1.5);
    expect(meanError(luma, jpeg.decode(bytes).data)).toBeLessThan(1.5);
  });

  it('leaves Huffman tables out on request, and only then', () => {
    const luma = ramp(32, 32);
    const marker = (bytes: Uint8Array) => Buffer.from(bytes).includes(Buffer.from([0xff, 0xc4]));
    expect(marker(encodeJpeg(luma, 32, 32, { cb: 120, cr: 136 }))).toBe(true);
    expect(marker(encodeJpeg(luma, 32, 32, { cb: 120, cr: 136 }, { huffmanTables: false }))).toBe(false);
  });
});
