import { crc32 as native } from 'node:zlib';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { crc32 } from '../../src/parts/crc32.ts';

describe('CRC-32', () => {
  // The check value of the catalogue of parametrised CRC algorithms (CRC-32/ISO-HDLC).
  it('has the published check value', () => expect(crc32('123456789')).toBe(0xcbf43926));
  it('is node’s own, for bytes and text, short and long', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 200 }), bytes => crc32(bytes) === native(bytes)),
      { numRuns: 30 },
    );
    fc.assert(
      fc.property(fc.string({ unit: 'grapheme' }), text => crc32(text) === native(text)),
      { numRuns: 200 },
    );
    const long = new Uint8Array(100_000).fill(0x5a);
    expect(crc32(long)).toBe(native(long));
  });
});
