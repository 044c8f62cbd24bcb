import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { encodeCode128 } from '../../src/print/code128.ts';
import { checkDigits, createImprint, imprintText, readImprintText } from '../../src/print/imprint.ts';

describe('imprint', () => {
  it('checks by ISO/IEC 7064 MOD 97-10', () => {
    // The best known worked example of MOD 97-10, the IBAN structure of ISO 13616 (from memory): GB82 WEST 1234 5698 7654 32.
    expect(checkDigits('WEST12345698765432GB')).toBe('82');
  });

  it('reads what it writes and nothing else', () => {
    fc.assert(
      fc.property(fc.stringMatching(/^[A-Z0-9]{1,4}$/), fc.integer({ min: 1, max: 999_999 }), (mark, shot) => {
        expect(readImprintText(imprintText(mark, shot))).toEqual({ mark, shot });
      }),
    );
    for (const wrong of ['', 'SLIP', 'SLIP00001200', 'slip00001233', 'TOOLONG00001212'])
      expect(readImprintText(wrong)).toBeNull();
  });

  it('finds every single wrong digit', () => {
    const text = imprintText('SLIP', 1234);
    for (let at = 4; at < text.length; at++)
      for (const digit of '0123456789')
        if (text[at] !== digit) expect(readImprintText(text.slice(0, at) + digit + text.slice(at + 1))).toBeNull();
  });

  it('counts Code 128 modules as ISO/IEC 15417 does: 11 a symbol, 13 the stop', () => {
    const modules = (text: string) => encodeCode128(text).reduce((sum, width) => sum + width, 0);
    // P000123 in one subset: start, 7 values, check, stop = 9 · 11 + 13; the library may pack digit pairs closer.
    expect(modules('PRINTED')).toBe(9 * 11 + 13);
    expect(modules('PRINTED') + 20).toBe(132);
  });

  it('fits 384 dots with both quiet zones', () => {
    const imprint = createImprint({ widthDots: 384, mark: 'SLIP', encode: encodeCode128 });
    const tail = imprint.tail(42);
    expect(tail.heightDots).toBe(31);
    const inked = (x: number, y: number) => (tail.data[y * tail.strideBytes + (x >> 3)] >> (7 - (x & 7))) & 1;
    const row = Array.from({ length: 384 }, (_, x) => inked(x, 15));
    const first = row.indexOf(1, 19);
    const last = row.lastIndexOf(1, 384 - 20);
    expect(first - 19).toBeGreaterThanOrEqual(20);
    expect(384 - 19 - 1 - last).toBeGreaterThanOrEqual(20);
  });

  describe.skipIf(!existsSync('/usr/bin/zbarimg'))(
    'by an independent reader (zbarimg; pending where it is not installed)',
    () => {
      it('reads back', () => {
        const tail = createImprint({ widthDots: 384, mark: 'SLIP', encode: encodeCode128 }).tail(4711);
        const scale = 3;
        const pixels = Buffer.alloc(384 * scale * tail.heightDots * scale);
        for (let y = 0; y < tail.heightDots * scale; y++)
          for (let x = 0; x < 384 * scale; x++) {
            const [dx, dy] = [Math.floor(x / scale), Math.floor(y / scale)];
            pixels[y * 384 * scale + x] =
              (tail.data[dy * tail.strideBytes + (dx >> 3)] >> (7 - (dx & 7))) & 1 ? 20 : 235;
          }
        const file = `${mkdtempSync(`${tmpdir()}/imprint-`)}/tail.pgm`;
        writeFileSync(file, Buffer.concat([Buffer.from(`P5 ${384 * scale} ${tail.heightDots * scale} 255\n`), pixels]));
        const read = execFileSync('zbarimg', ['-q', '--raw', file], { encoding: 'utf8', stdio: ['ignore', 'pipe', 'ignore'] }).trim();
        expect(readImprintText(read)).toEqual({ mark: 'SLIP', shot: 4711 });
      });
    },
  );
});
