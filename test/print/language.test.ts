import { describe, expect, it } from 'vitest';
import * as language from '../../src/print/language.ts';
import { hex } from './desk.ts';

describe('control language', () => {
  // Bytes as receipt-printer command manuals give them, by the command's title there.
  it.each([
    ['initialise printer', language.initialise(), '1B 40'],
    ['print and feed paper', language.feedUnits(255), '1B 4A FF'],
    ['print and feed n lines', language.feedLines(3), '1B 64 03'],
    ['print and reverse feed', language.reverseUnits(24), '1B 4B 18'],
    ['print and reverse feed n lines', language.reverseLines(1), '1B 65 01'],
    ['reverse n dots', language.reverseDots(12), '1B 6A 0C'],
    ['default line spacing', language.lineSpacing(), '1B 32'],
    ['line spacing', language.lineSpacing(30), '1B 33 1E'],
    ['motion units', language.motionUnits(203, 203), '1D 50 CB CB'],
    ['transmit status now', language.statusNow(4), '10 04 04'],
    ['automatic status', language.automaticStatus(0x0e), '1D 61 0E'],
    [
      'heat, the default of the panel class',
      language.heat({ dotsAtOnce: 64, heatingUs: 800, intervalUs: 20 }),
      '1B 37 07 50 02',
    ],
    ['density 100 %, no break', language.density(100, 0), '12 23 0A'],
    ['density 120 %, break 500 µs', language.density(120, 500), '12 23 4E'],
    ['sleep: never', language.sleepAfter(0), '1B 38 00 00'],
    ['sleep after ten minutes', language.sleepAfter(600), '1B 38 58 02'],
    ['wake up', language.wake(), 'FF'],
    ['print graphics', language.printGraphics(), '1D 28 4C 02 00 30 32'],
  ])('%s', (_, bytes, expected) => {
    expect(hex(bytes)).toBe(expected);
  });

  it('raster image: 384 × 24 dots are 1D 76 30 00 30 00 18 00 and 1,152 bytes', () => {
    // Worked from the manual's formula: x = 384 / 8 = 48 = 30h bytes, y = 24 = 18h rows.
    const bytes = language.raster(48, 24, new Uint8Array(1152).fill(0xa5));
    expect(hex(bytes.subarray(0, 8))).toBe('1D 76 30 00 30 00 18 00');
    expect(bytes.length).toBe(8 + 1152);
    expect(bytes.subarray(8).every(byte => byte === 0xa5)).toBe(true);
  });

  it('store graphics: the same strip has p = 10 + 1,152 = 1,162 = 8A 04', () => {
    const bytes = language.storeGraphics(384, 24, new Uint8Array(1152));
    expect(hex(bytes.subarray(0, 15))).toBe('1D 28 4C 8A 04 30 70 30 01 01 31 80 01 18 00');
    expect(bytes.length).toBe(1152 + language.storeGraphicsOverhead);
  });

  it('column image of 24 dots: three bytes a column', () => {
    const bytes = language.columns24(384, new Uint8Array(1152));
    expect(hex(bytes.subarray(0, 5))).toBe('1B 2A 21 80 01');
    expect(bytes.length).toBe(5 + 3 * 384);
    expect(hex(language.columns8(2, Uint8Array.of(0x80, 0x01)))).toBe('1B 2A 01 02 00 80 01');
  });

  it('exchanges the fields of the density where a printer does, as well as three bits can', () => {
    expect(hex(language.density(110, 500, true))).toBe('12 23 68');
    for (let n = 0; n < 32; n++) expect(language.density(50 + 5 * n, 0)[2]).toBe(n);
  });

  it.each([
    ['feed', () => language.feedUnits(256)],
    ['feed by halves', () => language.feedUnits(1.5)],
    ['reverse', () => language.reverseUnits(-1)],
    ['raster without rows', () => language.rasterHeader(48, 0)],
    ['raster too wide', () => language.rasterHeader(65_536, 1)],
    ['raster with too few data', () => language.raster(48, 2, new Uint8Array(95))],
    ['graphics longer than its length field', () => language.storeGraphics(576, 911, new Uint8Array(576 * 911))],
    ['dots at once, no group of eight', () => language.heat({ dotsAtOnce: 60, heatingUs: 800, intervalUs: 20 })],
    ['too many dots at once', () => language.heat({ dotsAtOnce: 2056, heatingUs: 800, intervalUs: 20 })],
    ['heating too short', () => language.heat({ dotsAtOnce: 64, heatingUs: 20, intervalUs: 20 })],
    ['interval too long', () => language.heat({ dotsAtOnce: 64, heatingUs: 800, intervalUs: 2560 })],
    ['density', () => language.density(210, 0)],
    ['break', () => language.density(100, 2000)],
    ['sleep', () => language.sleepAfter(65_536)],
    ['status', () => language.statusNow(5 as 4)],
  ])('refuses what no command can say: %s', (_, act) => {
    expect(act).toThrow(RangeError);
  });
});
