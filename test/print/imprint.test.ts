import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { fileURLToPath } from 'node:url';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { prepareZXingModule, readBarcodes } from 'zxing-wasm/reader';
import { encodeCode128 } from '../../src/print/code128.ts';
import { checkDigits, createImprint, imprintText, marginMm, readImprintText } from '../../src/print/imprint.ts';
import { createDesk, noise } from './desk.ts';

/** The tail of a picture as a scanner would see it, three pixels a dot. */
const enlarged = (shot: number): { widthPx: number; heightPx: number; grey: Buffer } => {
  const tail = createImprint({ widthDots: 384, mark: 'SLIP', encode: encodeCode128 }).tail(shot);
  const scale = 3;
  const [widthPx, heightPx] = [384 * scale, tail.heightDots * scale];
  const grey = Buffer.alloc(widthPx * heightPx);
  for (let y = 0; y < heightPx; y++)
    for (let x = 0; x < widthPx; x++) {
      const [dx, dy] = [Math.floor(x / scale), Math.floor(y / scale)];
      grey[y * widthPx + x] = (tail.data[dy * tail.strideBytes + (dx >> 3)] >> (7 - (dx & 7))) & 1 ? 20 : 235;
    }
  return { widthPx, heightPx, grey };
};

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

  it('costs as much paper beside a picture as is reckoned with', () => {
    for (const marked of [true, false]) {
      const imprint = marked ? createImprint({ widthDots: 384, mark: 'SLIP', encode: encodeCode128 }) : null;
      const { engine, finish, printer, profile } = createDesk({ imprint });
      const before = printer.paper.at;
      finish(heard => engine.printBody(noise(384, 560, 0.3), heard));
      finish(heard => engine.printTail(1, heard));
      const usedMm = (printer.paper.at - before) / profile.dotsPerMm;
      expect(usedMm).toBe(560 / profile.dotsPerMm + marginMm(profile, { imprint: marked }));
    }
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

  it('reads back by an independent reader (zxing, as its wasm build)', async () => {
    const wasm = readFileSync(fileURLToPath(import.meta.resolve('zxing-wasm/reader/zxing_reader.wasm')));
    prepareZXingModule({
      overrides: { wasmBinary: wasm.buffer.slice(wasm.byteOffset, wasm.byteOffset + wasm.byteLength) },
    });
    const { widthPx, heightPx, grey } = enlarged(4712);
    const rgba = new Uint8ClampedArray(grey.length * 4);
    grey.forEach((value, i) => {
      rgba.set([value, value, value, 255], i * 4);
    });
    const [read] = await readBarcodes({ data: rgba, width: widthPx, height: heightPx } as never, {
      formats: ['Code128'],
    });
    expect(readImprintText(read.text)).toEqual({ mark: 'SLIP', shot: 4712 });
  });

  describe.skipIf(!existsSync('/usr/bin/zbarimg'))('by another (zbarimg; pending where it is not installed)', () => {
    it('reads back', () => {
      const { widthPx, heightPx, grey } = enlarged(4711);
      const file = `${mkdtempSync(`${tmpdir()}/imprint-`)}/tail.pgm`;
      writeFileSync(file, Buffer.concat([Buffer.from(`P5 ${widthPx} ${heightPx} 255\n`), grey]));
      const read = execFileSync('zbarimg', ['-q', '--raw', file], {
        encoding: 'utf8',
        stdio: ['ignore', 'pipe', 'ignore'],
      });
      expect(readImprintText(read.trim())).toEqual({ mark: 'SLIP', shot: 4711 });
    });
  });
});
