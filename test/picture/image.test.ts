import { spawnSync } from 'node:child_process';
import { existsSync } from 'node:fs';
import { crc32, deflateSync } from 'node:zlib';
import fc from 'fast-check';
import { PNG } from 'pngjs';
import { describe, expect, it } from 'vitest';
import { Fault } from '../../src/parts/fault.ts';
import { decodePhoto } from '../../src/picture/image.ts';
import { writePng } from '../../src/picture/png.ts';
import { python } from './photos.ts';

describe('own PNG writer, read by pngjs', () => {
  it('8 bits: what is written is read', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 40 }),
        fc.integer({ min: 1, max: 20 }),
        fc.infiniteStream(fc.nat(255)),
        (w, h, values) => {
          const data = Uint8Array.from({ length: w * h }, () => values.next().value);
          const png = PNG.sync.read(Buffer.from(writePng({ widthPx: w, heightPx: h, bits: 8, data })));
          expect([png.width, png.height]).toEqual([w, h]);
          expect([...png.data].filter((_, i) => i % 4 === 0)).toEqual([...data]);
        },
      ),
      { numRuns: 40 },
    );
  });
  it('1 bit: 1 is black, rows may be wider than they need', () => {
    const data = Uint8Array.of(0b10100000, 0b01000000, 0xee, 0b00000001, 0b10000000, 0xee);
    const png = PNG.sync.read(Buffer.from(writePng({ widthPx: 10, heightPx: 2, bits: 1, data, strideBytes: 3 })));
    const black = Array.from({ length: 20 }, (_, i) => (png.data[4 * i] === 0 ? 1 : 0));
    expect(black).toEqual([1, 0, 1, 0, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0, 0, 0, 1, 1, 0]);
  });
  it.skipIf(!existsSync(python))('resolution and text are read by Pillow (needs python3-pil)', () => {
    const png = writePng({
      widthPx: 3,
      heightPx: 2,
      bits: 8,
      data: Uint8Array.of(0, 64, 128, 192, 224, 255),
      dpi: 203,
      text: { Title: 'Grüße' },
    });
    const words =
      'import sys,io;from PIL import Image;i=Image.open(io.BytesIO(sys.stdin.buffer.read()));i.load();print(round(i.info["dpi"][0]),i.text["Title"].encode().hex(),list(i.getdata()))';
    const { stdout } = spawnSync(python, ['-c', words], { input: png, encoding: 'utf8' });
    expect(stdout.trim()).toBe(`203 ${Buffer.from('Grüße').toString('hex')} [0, 64, 128, 192, 224, 255]`);
  });
});

describe('photos of any usual kind', () => {
  const gradient = (colorType: 0 | 2 | 4 | 6, bitDepth: 8 | 16) => {
    const png = new PNG({ width: 4, height: 1 });
    png.data.set([0, 0, 0, 255, 100, 100, 100, 255, 255, 255, 255, 255, 0, 0, 0, 0]);
    return new Uint8Array(PNG.sync.write(png, { colorType, bitDepth, inputColorType: 6, inputHasAlpha: true }));
  };
  it.each([0, 2, 4, 6] as const)('PNG of colour type %i', colorType => {
    const { data } = decodePhoto(gradient(colorType, 8), 'g.png');
    expect([...data.subarray(0, 3)]).toEqual([0, 100, 255]);
    // What is transparent is paper.
    if (colorType >= 4) expect(data[3]).toBe(255);
  });
  it.skipIf(!existsSync(python))(
    '1, 2, 4, 16 bits, palette, CMYK and an animation, as Pillow writes them (needs python3-pil)',
    () => {
      const kinds = spawnSync(
        python,
        [
          '-c',
          `
import io, sys
from PIL import Image
def show(image, kind, **more):
    out = io.BytesIO(); image.save(out, kind, **more); print(out.getvalue().hex())
grey = Image.frombytes('L', (4, 2), bytes([0, 85, 170, 255, 255, 170, 85, 0]))
show(grey.point(lambda v: 255 * (v > 127)).convert('1'), 'PNG')
show(grey.convert('P'), 'PNG', bits=2)
show(grey.quantize(4), 'PNG')
show(Image.frombytes('I;16', (4, 2), b''.join((v * 257).to_bytes(2, 'little') for v in grey.tobytes())), 'PNG')
show(grey.resize((16, 16)).convert('CMYK'), 'JPEG')
show(grey, 'PNG', save_all=True, append_images=[grey.rotate(180)])
`,
        ],
        { encoding: 'utf8' },
      )
        .stdout.trim()
        .split('\n')
        .map(line => Buffer.from(line, 'hex'));
      expect([...decodePhoto(kinds[0], 'a.png').data]).toEqual([0, 0, 255, 255, 255, 255, 0, 0]);
      for (const kind of [2, 3])
        [...decodePhoto(kinds[kind], 'b.png').data].forEach((value, i) => {
          expect(Math.abs(value - [0, 85, 170, 255, 255, 170, 85, 0][i])).toBeLessThanOrEqual(1);
        });
      expect([...decodePhoto(kinds[5], 'moving.png').data]).toEqual([0, 85, 170, 255, 255, 170, 85, 0]);
      expect(() => decodePhoto(kinds[4], 'press.jpg')).toThrow(/^press\.jpg: .*CMYK/);
    },
  );
  it.each<[string, Uint8Array, RegExp]>([
    ['empty', new Uint8Array(0), /x: the file is empty/],
    ['text', Buffer.from('a picture of a cat'), /neither a PNG nor a JPEG/],
    ['GIF', Buffer.from('GIF89a……'), /x: this is a GIF/],
    ['BMP', Buffer.from('BM……'), /x: this is a BMP/],
    ['PNG cut at its head', gradient(6, 8).subarray(0, 20), /cut short/],
    ['PNG cut in its pixels', gradient(6, 8).subarray(0, 60), /ends too early/],
    ['JPEG cut', Uint8Array.of(0xff, 0xd8, 0xff, 0xe0, 0, 16, 0), /^x: .*ends before/],
  ])('%s: refused with the file’s name', (_, bytes, words) => {
    expect(() => decodePhoto(bytes, 'x')).toThrow(Fault);
    expect(() => decodePhoto(bytes, 'x')).toThrow(words);
  });
  it('a PNG is turned upright by its eXIf chunk; damaged, it counts as upright', () => {
    const wide = gradient(0, 8);
    const turnedBy = (exif: readonly number[]) => {
      const chunk = Buffer.concat([Buffer.alloc(4), Buffer.from('eXIf'), Buffer.from(exif), Buffer.alloc(4)]);
      chunk.writeUInt32BE(exif.length, 0);
      chunk.writeUInt32BE(crc32(chunk.subarray(4, -4)), chunk.length - 4);
      return decodePhoto(Buffer.concat([wide.subarray(0, 33), chunk, wide.subarray(33)]), 'turned.png');
    };
    const says = (orientation: number) => [
      0x4d,
      0x4d,
      0,
      42,
      0,
      0,
      0,
      8,
      0,
      1,
      0x01,
      0x12,
      0,
      3,
      0,
      0,
      0,
      1,
      0,
      orientation,
      0,
      0,
      0,
      0,
      0,
      0,
    ];
    expect([...turnedBy(says(3)).data.subarray(1)]).toEqual([255, 100, 0]);
    expect(turnedBy(says(6))).toMatchObject({ widthPx: 1, heightPx: 4 });
    for (const exif of [says(9), says(6).slice(0, 15), [], [0x49]])
      expect(turnedBy(exif)).toMatchObject({ widthPx: 4, heightPx: 1 });
  });
  it.skipIf(!existsSync(python))('all eight orientations of a PNG as Pillow turns them (needs python3-pil)', () => {
    const { stdout } = spawnSync(
      python,
      [
        '-c',
        `
import io
from PIL import Image, ImageOps
grey = Image.frombytes('L', (3, 2), bytes([0, 40, 80, 120, 160, 200]))
for orientation in range(1, 9):
    exif = Image.Exif(); exif[0x0112] = orientation
    out = io.BytesIO(); grey.save(out, 'PNG', exif=exif)
    turned = ImageOps.exif_transpose(Image.open(io.BytesIO(out.getvalue())))
    print(out.getvalue().hex(), turned.width, turned.height, turned.tobytes().hex())
`,
      ],
      { encoding: 'utf8' },
    );
    const rows = stdout.trim().split('\n');
    expect(rows).toHaveLength(8);
    for (const row of rows) {
      const [png, width, height, grey] = row.split(' ');
      const { widthPx, heightPx, data } = decodePhoto(Buffer.from(png, 'hex'), 'p.png');
      expect([widthPx, heightPx, Buffer.from(data).toString('hex')]).toEqual([Number(width), Number(height), grey]);
    }
  });
  it('pixels beyond the size that a PNG names are a Fault, not memory', () => {
    const pixels = deflateSync(new Uint8Array(50_000_000));
    const part = (name: string, body: Uint8Array) => {
      const whole = Buffer.concat([Buffer.alloc(4), Buffer.from(name, 'latin1'), body, Buffer.alloc(4)]);
      whole.writeUInt32BE(body.length, 0);
      whole.writeUInt32BE(crc32(whole.subarray(4, -4)), whole.length - 4);
      return whole;
    };
    const head = Buffer.alloc(13);
    head.writeUInt32BE(10, 0);
    head.writeUInt32BE(10, 4);
    head.writeUInt8(8, 8);
    const bomb = Buffer.concat([
      gradient(6, 8).subarray(0, 8),
      part('IHDR', head),
      part('IDAT', pixels),
      part('IEND', Buffer.alloc(0)),
    ]);
    expect(() => decodePhoto(bomb, 'bomb.png')).toThrow(/^bomb\.png: the PNG can’t be decoded/);
  });
  it('100 megapixels are refused before anything is decoded', () => {
    const huge = gradient(6, 8).slice();
    new DataView(huge.buffer).setUint32(16, 10_000);
    new DataView(huge.buffer).setUint32(20, 10_000);
    expect(() => decodePhoto(huge, 'huge.png')).toThrow(/huge\.png: 10000 × 10000 pixels are 100 megapixels or more/);
  });
  it('no damage to a PNG’s bytes is anything but a picture or a Fault', () => {
    const good = gradient(2, 8);
    fc.assert(
      fc.property(fc.nat(good.length - 1), fc.nat(255), (at, value) => {
        const bad = good.slice();
        bad[at] = value;
        try {
          decodePhoto(bad, 'bad.png');
        } catch (error) {
          expect(error).toBeInstanceOf(Fault);
        }
      }),
      { numRuns: 300 },
    );
  });
});
