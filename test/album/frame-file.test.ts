import jpeg from 'jpeg-js';
import { PNG } from 'pngjs';
import { describe, expect, it } from 'vitest';
import { createDiskModel } from '../../sim/disk.ts';
import { aboutText, makeFrameFile, readFrameFile } from '../../src/album/frame-file.ts';
import { readGreyPng } from '../../src/album/png.ts';
import type { Frame } from '../../src/parts/webcam.ts';
import { writePng } from '../../src/picture/png.ts';
import { frameOf, lumaOf, startLife } from './fixture.ts';

const about = { takenAtMs: Date.UTC(2026, 5, 20, 18, 0, 0), pressToFrameUs: 41_234 };
const bytesOf = (shot: number, frame: Frame): Uint8Array => {
  const made = makeFrameFile(shot, frame, about);
  if (made.kind === 'unfit') throw new Error(made.why);
  return made.bytes;
};
/** A photograph-like JPEG from an encoder that isn't ours. */
const jpegFrame = (): Frame => {
  const [width, height] = [32, 24];
  const data = Buffer.alloc(width * height * 4, 255);
  for (let i = 0; i < width * height; i++) data.set([(i * 7) & 255, (i * 3) & 255, i & 255], i * 4);
  const { data: encoded } = jpeg.encode({ width, height, data }, 80);
  return frameOf(5, {
    format: 'MJPEG',
    widthPx: width,
    heightPx: height,
    strideBytes: 0,
    data: encoded,
    range: 'full',
  });
};
const withoutJfif = ({ data, ...rest }: Frame): Frame => {
  const jfifBytes = 2 + Buffer.from(data).readUInt16BE(4);
  return { ...rest, data: Buffer.concat([data.subarray(0, 2), data.subarray(2 + jfifBytes)]) };
};

describe('a frame as a file', () => {
  it('a general PNG reader (pngjs) sees the luma that was kept', () => {
    const image = PNG.sync.read(Buffer.from(bytesOf(3, frameOf(3))), { checkCRC: true });
    expect([image.width, image.height]).toEqual([16, 12]);
    const luma = lumaOf(frameOf(3));
    expect(luma.every((y, i) => image.data[i * 4] === y && image.data[i * 4 + 1] === y)).toBe(true);
  });

  it('rows with gaps between them, as GREY and as YUYV', () => {
    for (const format of ['GREY', 'YUYV'] as const) {
      const pixelBytes = format === 'GREY' ? 1 : 2;
      const data = new Uint8Array(3 * 20).map((_, i) => (i * 13) & 255);
      const frame = frameOf(1, { format, widthPx: 5, heightPx: 3, strideBytes: 20, data });
      const read = readFrameFile(bytesOf(1, frame));
      if (read.kind === 'damaged') throw new Error(read.why);
      const wanted = Array.from({ length: 15 }, (_, i) => data[Math.floor(i / 5) * 20 + (i % 5) * pixelBytes]);
      expect([...read.file.frame.data]).toEqual(wanted);
    }
  });

  it.each([
    ['with its JFIF segment', jpegFrame()],
    ['without one, as webcams send it', withoutJfif(jpegFrame())],
  ])('a general JPEG reader (jpeg-js) sees the same picture %s', (_, frame) => {
    const file = Buffer.from(bytesOf(5, frame));
    expect(jpeg.decode(file).data).toEqual(jpeg.decode(Buffer.from(frame.data)).data);
    const read = readFrameFile(file);
    expect(read).toMatchObject({ kind: 'read', file: { shot: 5, about, frame: { format: 'MJPEG', range: 'full' } } });
    if (read.kind === 'read') expect(Buffer.compare(read.file.frame.data, frame.data)).toBe(0);
  });

  it.each([
    ['PNG', bytesOf(3, frameOf(3))],
    ['JPEG', bytesOf(5, jpegFrame())],
  ])('any byte changed, any length cut: a %s is never taken for whole', (_, file) => {
    const missed: string[] = [];
    for (let at = 0; at < file.length; at++) {
      for (const flip of [0x01, 0x80, 0xff]) {
        const damaged = file.slice();
        damaged[at] ^= flip;
        if (readFrameFile(damaged).kind === 'read') missed.push(`byte ${at} ^ ${flip}`);
      }
      if (readFrameFile(file.slice(0, at)).kind === 'read') missed.push(`cut at ${at}`);
    }
    if (readFrameFile(Buffer.concat([file, Uint8Array.of(0)])).kind === 'read') missed.push('one byte more');
    expect(missed).toEqual([]);
  });

  it('says what is wrong', () => {
    const why = (bytes: Uint8Array) => {
      const read = readFrameFile(bytes);
      return read.kind === 'damaged' ? read.why : 'nothing';
    };
    const png = (text: Record<string, string>) =>
      writePng({ widthPx: 2, heightPx: 2, bits: 8, data: Uint8Array.of(1, 2, 3, 4), text });
    expect(why(new Uint8Array(0))).toBe('it is empty');
    expect(why(new Uint8Array(900))).toBe('it doesn’t begin as a PNG does');
    expect(why(bytesOf(3, frameOf(3)).slice(0, 200))).toBe('it is cut short');
    expect(why(png({}))).toBe('its note is missing');
    expect(why(png({ slipshutter: '{"shot": "one"}' }))).toBe('its note is missing');
    expect(why(Uint8Array.of(0xff, 0xd8, 0xff, 0xdb, 0, 2, 0xff, 0xd9))).toBe('its note is missing');
    expect(why(Uint8Array.of(0xff))).toBe('its note is missing');
    // pngjs writes rows with filters, and colour: a PNG, but none of ours.
    const foreign = new PNG({ width: 2, height: 2 });
    expect(why(PNG.sync.write(foreign))).toContain('isn’t one of ours');
  });

  it('an about that every reader of JSON understands', () => {
    expect(JSON.parse(aboutText({ shot: 3, frame: frameOf(3), about, sentAs: 'YUYV' }))).toEqual({
      shot: 3,
      takenAtMs: about.takenAtMs,
      pressToFrameUs: 41_234,
      sequence: 30,
      exposureStartUs: 3000,
      exposureEndUs: 3500,
      format: 'YUYV',
      widthPx: 16,
      heightPx: 12,
      range: 'limited',
      takenAt: '2026-06-20T18:00:00.000Z',
    });
  });
});

describe('printed dots', () => {
  it('a general PNG reader (pngjs) sees black where a dot is', () => {
    const disk = createDiskModel();
    const life = startLife(disk);
    life.settle();
    life.keep(1);
    life.album.keepDots(1, {
      widthDots: 10,
      heightDots: 2,
      strideBytes: 2,
      data: Uint8Array.of(0x81, 0x40, 0x00, 0x80),
    });
    life.settle();
    const file = disk.read('pictures/0000/000001/dots.png');
    const image = PNG.sync.read(Buffer.from(file));
    const grey = (y: number) => Array.from({ length: 10 }, (_, x) => image.data[(y * 10 + x) * 4]);
    expect(grey(0)).toEqual([0, 255, 255, 255, 255, 255, 255, 0, 255, 0]);
    expect(grey(1)).toEqual([255, 255, 255, 255, 255, 255, 255, 255, 0, 255]);
    expect(readGreyPng(file)).toMatchObject({ kind: 'read', png: { bits: 1, widthPx: 10, heightPx: 2 } });
  });

  it('more than can be written are let go, the last ones stay', () => {
    const disk = createDiskModel();
    const life = startLife(disk);
    life.settle();
    for (let shot = 1; shot <= 12; shot++) {
      life.keep(shot);
    }
    life.port.control.slow(10);
    for (let shot = 1; shot <= 12; shot++)
      life.album.keepDots(shot, { widthDots: 8, heightDots: 1, strideBytes: 1, data: Uint8Array.of(shot) });
    life.album.keepDots(99, { widthDots: 8, heightDots: 1, strideBytes: 1, data: Uint8Array.of(9) });
    life.settle(20_000);
    const have = disk.list('pictures/0000').filter(name => disk.list(`pictures/0000/${name}`).includes('dots.png'));
    expect(have).toContain('000012');
    expect(have).not.toContain('000003');
    expect(life.said.map(one => one.kind)).toEqual(['opened']);
  });
});
