import { existsSync, readFileSync } from 'node:fs';
import { crc32, deflateSync } from 'node:zlib';
import { describe, expect, it } from 'vitest';
import { encodeJpeg } from '../../sim/mjpeg.ts';
import { chance } from '../../sim/random.ts';
import type { LaidStrip } from '../../sim/scanner/scanner.ts';
import { cleanWear, takeScan } from '../../sim/scanner/scanner.ts';
import type { Grey } from '../../src/gather/grey.ts';
import { perform } from '../../src/gather/task.ts';
import { decodePhoto } from '../../src/picture/image.ts';
import { writePng } from '../../src/picture/png.ts';
import { photoPath } from '../picture/photos.ts';
import { diffuse, stripOf, toneImage } from './fixture.ts';

const draw = chance(77);
const stripWith = (shots: readonly number[], mark = 'SLIP') =>
  stripOf(
    shots.map(shot => ({ shot, body: diffuse(toneImage(384, 160, draw), 384, 160) })),
    mark,
  );
const scanOf = (strips: readonly LaidStrip[], widthMm: number, heightMm: number, dpi = 200) =>
  takeScan(strips, { widthMm, heightMm, dpi }, cleanWear, draw);
const one = (shot: number, turnDegrees = 0, mark = 'SLIP') =>
  scanOf([{ dots: stripWith([shot], mark).dots, xMm: 32, yMm: 26, turnDegrees }], 64, 52).image;

/** Names of the pictures on a scan (null for those without) and what is said of it, or why it can't be read. */
const lookOver = async (bytes: Uint8Array) => {
  const done = await perform({ kind: 'survey', name: 'scan.x', bytes });
  if (!done.ok) return { why: done.why, mend: done.mend, names: [], notes: '' };
  if (done.kind !== 'survey') throw new Error('not a survey');
  const { sightings, notes } = done.result;
  return { names: sightings.map(({ marked }) => marked?.name ?? null), notes: notes.join('; '), why: '', mend: '' };
};

const asPng = ({ widthPx, heightPx, data }: Grey) => writePng({ widthPx, heightPx, bits: 8, data });

const chunk = (type: string, body: Uint8Array): Uint8Array => {
  const whole = Buffer.alloc(12 + body.length);
  whole.writeUInt32BE(body.length);
  whole.write(type, 4, 'latin1');
  whole.set(body, 8);
  whole.writeUInt32BE(crc32(whole.subarray(4, 8 + body.length)), 8 + body.length);
  return whole;
};

/** A PNG of any kind (ISO/IEC 15948), rows unfiltered. */
const rawPng = (
  widthPx: number,
  heightPx: number,
  { depth, colour, palette }: { depth: number; colour: number; palette?: Uint8Array },
  rows: Uint8Array,
) => {
  const header = Buffer.alloc(13);
  header.writeUInt32BE(widthPx);
  header.writeUInt32BE(heightPx, 4);
  header.set([depth, colour], 8);
  const rowBytes = rows.length / heightPx;
  const filtered = Buffer.alloc(rows.length + heightPx);
  for (let y = 0; y < heightPx; y++)
    filtered.set(rows.subarray(y * rowBytes, (y + 1) * rowBytes), y * (rowBytes + 1) + 1);
  return Buffer.concat([
    Uint8Array.of(0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a),
    chunk('IHDR', header),
    ...(palette ? [chunk('PLTE', palette)] : []),
    chunk('IDAT', deflateSync(filtered)),
    chunk('IEND', new Uint8Array(0)),
  ]);
};

const turned = ({ widthPx, heightPx, data }: Grey): Grey => ({
  widthPx,
  heightPx,
  data: Uint8Array.from(data).reverse(),
});
const mirrored = ({ widthPx, heightPx, data }: Grey): Grey => ({
  widthPx,
  heightPx,
  data: Uint8Array.from(data, (_, i) => data[i - (i % widthPx) + widthPx - 1 - (i % widthPx)]),
});
const topOf = ({ widthPx, data }: Grey, heightPx: number): Grey => ({
  widthPx,
  heightPx,
  data: data.slice(0, heightPx * widthPx),
});
const plain = (grey: number): Grey => {
  const noise = chance(grey);
  return { widthPx: 500, heightPx: 700, data: Uint8Array.from({ length: 350_000 }, () => grey + noise.normal() * 3) };
};

const slip = (shot: number) => ({ mark: 'SLIP', shot });

describe('scans that are odd', () => {
  it('says that a scan without paper is dark all over, and a blank page blank', async () => {
    expect(await lookOver(asPng(plain(40)))).toMatchObject({ names: [], notes: expect.stringContaining('no paper') });
    expect(await lookOver(asPng(plain(235)))).toMatchObject({ names: [], notes: expect.stringContaining('blank') });
  });

  it('reads what lies upside down or mirrored', async () => {
    const scan = one(501, 2);
    expect(await lookOver(asPng(turned(scan)))).toMatchObject({ names: [slip(501)], notes: '' });
    expect(await lookOver(asPng(mirrored(scan)))).toMatchObject({
      names: [slip(501)],
      notes: expect.stringContaining('mirrored'),
    });
    expect(await lookOver(asPng(mirrored(turned(scan))))).toMatchObject({ names: [slip(501)] });
  });

  it('names whose code is there when the upper half is missing, and nobody when the lower half is', async () => {
    const scan = one(502);
    const half = Math.round(scan.heightPx / 2);
    const upper = await lookOver(asPng(topOf(scan, half)));
    expect(upper.names.filter(name => name)).toEqual([]);
    expect(upper.notes).toContain('no whole picture');
    const lower = await lookOver(asPng(topOf(turned(scan), half)));
    expect(lower.names.filter(name => name)).toEqual([]);
    expect(lower.notes).toContain('SLIP-000502 is not whole');
  });

  it('keeps the strips of two cameras apart on one glass', async () => {
    const strips = [
      { dots: stripWith([7, 8]).dots, xMm: 32, yMm: 48, turnDegrees: 0 },
      { dots: stripWith([7, 9], 'AUNT').dots, xMm: 96, yMm: 48, turnDegrees: 180 },
    ];
    const { names } = await lookOver(asPng(scanOf(strips, 128, 96).image));
    expect(names).toHaveLength(4);
    expect(names).toEqual(
      expect.arrayContaining([slip(7), slip(8), { mark: 'AUNT', shot: 7 }, { mark: 'AUNT', shot: 9 }]),
    );
  });

  it('gives no name to a picture whose code is smeared over', async () => {
    const { image, place } = scanOf([{ dots: stripWith([503]).dots, xMm: 32, yMm: 26, turnDegrees: 0 }], 64, 52);
    const from = place(0, 90, 31 + 160);
    const to = place(0, 290, 31 + 160 + 31);
    for (let y = Math.round(from.y); y < to.y; y++)
      image.data.fill(90, y * image.widthPx + Math.round(from.x), y * image.widthPx + Math.round(to.x));
    const { names, notes } = await lookOver(asPng(image));
    expect(names).toEqual([null]);
    expect(notes).toContain('no readable code');
  });

  it('reads palettes, 16 bits and JPEG alike', async () => {
    const scan = one(504, -3);
    const { widthPx, heightPx, data } = scan;
    const backwards = Uint8Array.from({ length: 768 }, (_, i) => 255 - Math.floor(i / 3));
    const palette = rawPng(
      widthPx,
      heightPx,
      { depth: 8, colour: 3, palette: backwards },
      data.map(value => 255 - value),
    );
    expect(await lookOver(palette)).toMatchObject({ names: [slip(504)], why: '' });
    const wide = new Uint8Array(6 * data.length);
    data.forEach((value, i) => {
      wide.fill(value, 6 * i, 6 * i + 6);
    });
    expect(await lookOver(rawPng(widthPx, heightPx, { depth: 16, colour: 2 }, wide))).toMatchObject({
      names: [slip(504)],
    });
    const [w, h] = [widthPx & ~15, heightPx & ~15];
    const whole = new Uint8Array(w * h);
    for (let y = 0; y < h; y++) whole.set(data.subarray(y * widthPx, y * widthPx + w), y * w);
    expect(await lookOver(encodeJpeg(whole, w, h, { cb: 128, cr: 128 }))).toMatchObject({ names: [slip(504)] });
  });

  it('says why a file can’t be read and what to do', async () => {
    const png = asPng(one(505));
    const spoilt = Uint8Array.from(png);
    spoilt[png.length >> 1] ^= 0xff;
    const odd = {
      'a truncated PNG': png.subarray(0, png.length >> 1),
      'a PNG with a damaged byte': spoilt,
      'a truncated JPEG': encodeJpeg(new Uint8Array(64 * 64), 64, 64, { cb: 128, cr: 128 }).subarray(0, 300),
      'a TIFF': Buffer.from('II*\0abcdefgh'),
      'a PDF': Buffer.from('%PDF-1.7 and so on'),
      'an empty file': new Uint8Array(0),
    };
    for (const [what, bytes] of Object.entries(odd)) {
      const { names, why, mend } = await lookOver(bytes);
      expect([what, names]).toEqual([what, []]);
      expect(why).toContain('scan.x: ');
      expect(mend.length).toBeGreaterThan(5);
    }
  });

  it('tells how to get at the scans in a TIFF or a PDF', async () => {
    expect(await lookOver(Buffer.from('MM\0*abcdefgh'))).toMatchObject({ why: 'scan.x: this is a TIFF' });
    const pdf = await lookOver(Buffer.from('%PDF-1.7 and so on'));
    expect(pdf).toMatchObject({ why: 'scan.x: this is a PDF', mend: expect.stringContaining('pdfimages -png') });
  });

  const page = photoPath('page');
  it.skipIf(!existsSync(page))(
    'takes nothing from a scanned page of text (needs python3-skimage’s page.png)',
    async () => {
      const text = decodePhoto(readFileSync(page), 'page');
      expect(await lookOver(asPng(text))).toMatchObject({
        names: [],
        notes: expect.stringContaining('no printed picture'),
      });
    },
  );
});
