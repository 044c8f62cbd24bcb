import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import jpeg from 'jpeg-js';
import { PNG } from 'pngjs';
import { afterEach, describe, expect, it } from 'vitest';
import { createDiskModel, type DiskModel } from '../../sim/disk.ts';
import { chance } from '../../sim/random.ts';
import album from '../../src/cli/album.ts';
import { frameOf, startLife } from '../album/fixture.ts';
import { tryCommand } from './io.ts';

const folders: string[] = [];
afterEach(() => {
  for (const folder of folders.splice(0)) rmSync(folder, { recursive: true, force: true });
});
const newFolder = (): string => {
  const folder = mkdtempSync(`${tmpdir()}/slipshutter-album-`);
  folders.push(folder);
  return folder;
};

const unload = (disk: DiskModel, path: string, folder: string) => {
  for (const name of disk.list(path)) {
    const at = path === '' ? name : `${path}/${name}`;
    if (disk.isFolder(at)) {
      mkdirSync(`${folder}/${at}`);
      unload(disk, at, folder);
    } else writeFileSync(`${folder}/${at}`, disk.read(at));
  }
};

const jpegData = jpeg.encode({ width: 8, height: 8, data: Buffer.alloc(256, 200) }, 90).data;
const photo = (shot: number) =>
  shot === 4 ? frameOf(4, { format: 'MJPEG', widthPx: 8, heightPx: 8, data: jpegData }) : frameOf(shot);

/** Five pictures: 1 printed, 2 printed but for its tail, 3 to 5 waiting; 4 is a JPEG, 5 of a time not known. */
const madeAlbum = (): string => {
  const disk = createDiskModel();
  const life = startLife(disk);
  life.settle();
  for (let shot = 1; shot <= 5; shot++)
    life.keep(shot, photo(shot), shot === 5 ? null : Date.UTC(2026, 5, 20, 18, 0, shot));
  life.album.keepDots(1, { widthDots: 8, heightDots: 1, strideBytes: 1, data: Uint8Array.of(5) });
  life.mark(1, 'closing');
  life.mark(1, 'printed');
  life.mark(2, 'closing');
  life.settle(9000);
  const folder = newFolder();
  unload(disk, '', folder);
  return folder;
};

const run = (args: string[], values: Record<string, string | boolean>, signal?: AbortSignal) =>
  tryCommand(album, args, values, { terminal: 'err', signal });
const frame = (shot: number, name = 'frame.png') => `pictures/0000/00000${shot}/${name}`;

describe('album list and show', () => {
  it('one line a picture, with its time and where it stands', async () => {
    const folder = madeAlbum();
    const { out, code, err } = await run(['list'], { album: folder });
    expect(code).toBe(0);
    expect(out.split('\n')).toEqual([
      '000001  2026-06-20 18:00:01  16 × 12  printed',
      '000002  2026-06-20 18:00:02  16 × 12  tail is missing',
      '000003  2026-06-20 18:00:03  16 × 12  waits',
      '000004  2026-06-20 18:00:04  8 × 8  waits',
      '000005  time not known       16 × 12  waits',
      '',
    ]);
    expect(err).toContain(`5 pictures in ${folder}`);
    // A roll of 40 mm on a core of 12 mm, 0.06 mm thick, by its formula: 19.06 m, of which nothing is counted here.
    expect(err).toMatch(/^19\.06 m of paper left by the account, 222 pictures$/m);
  });

  it('as JSON, a picture a line; damaged ones are named and go on', async () => {
    const folder = madeAlbum();
    writeFileSync(`${folder}/${frame(3)}`, 'x');
    const { out } = await run(['list', '2-3'], { album: folder, json: true });
    expect(
      out
        .trim()
        .split('\n')
        .map(line => JSON.parse(line)),
    ).toEqual([
      {
        shot: 2,
        takenAt: '2026-06-20T18:00:02.000Z',
        format: 'YUYV',
        widthPx: 16,
        heightPx: 12,
        pressToFrameUs: 40_000,
        onPaper: 'tail is missing',
        damage: null,
      },
      expect.objectContaining({ shot: 3, damage: 'frame.png: it doesn’t begin as a PNG does' }),
    ]);
    expect((await run(['list'], { album: folder })).out).toContain('000003  damaged: frame.png:');
  });

  it('show gives everything of one, and its files', async () => {
    const folder = madeAlbum();
    writeFileSync(`${folder}/${frame(1, 'about.json')}`, '{}');
    const { out } = await run(['show', '1', 'last'], { album: folder });
    expect(out).toContain('picture 1\n  taken         2026-06-20 18:00:01');
    expect(out).toContain('  damaged       about.json isn’t as it was written');
    expect(out).toContain(`  ${folder}/pictures/0000/000001/dots.png`);
    expect(out).toContain('picture 5\n  taken         time not known');
    const { out: json } = await run(['show', '4'], { album: folder, json: true });
    expect(JSON.parse(json)).toMatchObject({ shot: 4, format: 'MJPEG', damage: [], onPaper: 'waits' });
    expect((await run(['show', '4'], { album: folder })).out).toContain('8 × 8 px, as JPEG');
  });

  it('an empty album says so', async () => {
    const folder = newFolder();
    mkdirSync(`${folder}/pictures`);
    expect((await run(['list'], { album: folder })).err).toBe('no pictures yet\n');
    expect((await run(['show', 'last'], { album: folder })).fault?.message).toBe('the album is empty');
  });
});

describe('album reprint', () => {
  it('asks by a file that the album takes up', async () => {
    const folder = madeAlbum();
    const { out, code } = await run(['reprint', '1', '4-9'], { album: folder });
    expect(code).toBe(0);
    expect(out).toContain('asked for 1, 4, 5');
    expect(readdirSync(`${folder}/wanted`).sort()).toEqual(['000001', '000004', '000005']);
  });

  it('not for a picture that is damaged, nor where it can’t write', async () => {
    const folder = madeAlbum();
    writeFileSync(`${folder}/${frame(1)}`, '');
    const { fault } = await run(['reprint', '1'], { album: folder });
    expect(fault?.message).toBe('picture 1 can’t be printed again: frame.png: it is empty');
    expect(fault?.exitCode).toBe(5);
    rmSync(`${folder}/wanted`, { recursive: true });
    writeFileSync(`${folder}/wanted`, '');
    expect((await run(['reprint', '2'], { album: folder })).fault?.code).toBe('unwritable');
  });
});

describe('album export', () => {
  it('PNG files that a general reader (pngjs) opens, with time and figures as text', async () => {
    const folder = madeAlbum();
    const out = `${newFolder()}/deep/out`;
    const { code, err } = await run(['export'], { album: folder, out });
    expect(code).toBe(0);
    expect(err).toContain('5 pictures in');
    expect(err).toContain('% of 5 pictures');
    expect(readdirSync(out).sort()).toEqual([1, 2, 3, 4, 5].map(shot => `00000${shot}.png`));
    const bytes = readFileSync(`${out}/000002.png`);
    const image = PNG.sync.read(bytes, { checkCRC: true });
    // BT.601 limited range to full: (Y − 16) · 255 / 219.
    const y = frameOf(2).data[40];
    expect(image.data[20 * 4]).toBe(Math.min(255, Math.max(0, Math.round(((y - 16) * 255) / 219))));
    expect(bytes.toString('latin1')).toContain('Creation Time\0\0\0\0\x002026-06-20T18:00:02.000Z');
    expect(bytes.toString('latin1')).toContain('Title\0\0\0\0\0slip 2');
    expect(readFileSync(`${out}/000005.png`).toString('latin1')).not.toContain('Creation Time');
    const colour = PNG.sync.read(readFileSync(`${out}/000004.png`), { checkCRC: true });
    expect([colour.width, colour.height]).toEqual([8, 8]);
    expect(Math.abs(colour.data[0] - 200)).toBeLessThan(4);
  });

  it('names what can’t be exported, and exports the rest', async () => {
    const folder = madeAlbum();
    writeFileSync(`${folder}/${frame(2)}`, 'x');
    const out = newFolder();
    const { fault } = await run(['export'], { album: folder, out });
    expect(fault?.message).toBe('1 could not be exported:\n  picture 2: frame.png: it doesn’t begin as a PNG does');
    expect(readdirSync(out)).toHaveLength(4);
  });

  it('a folder that can’t be written leaves nothing half done; a signal stops between two pictures', async () => {
    const folder = madeAlbum();
    const out = newFolder();
    writeFileSync(`${out}/file`, '');
    expect((await run(['export'], { album: folder, out: `${out}/file` })).fault?.code).toBe('unwritable');
    mkdirSync(`${out}/000001.png`);
    expect((await run(['export', '1'], { album: folder, out })).fault?.code).toBe('unwritable');
    expect(existsSync(`${out}/000001.png.part`)).toBe(false);
    const { err } = await run(['export'], { album: folder, out }, AbortSignal.abort());
    expect(err).toContain('0 pictures in');
    expect(err).toContain('stopped before the end');
  });
});

describe('album verify', () => {
  it('an album as it was kept is whole', async () => {
    const { code, out } = await run(['verify'], { album: madeAlbum() });
    expect(out).toBe('5 pictures, all whole\n');
    expect(code).toBe(0);
  });

  it('finds and names every damage, of every kind', async () => {
    const folder = madeAlbum();
    const path = (shot: number, name: string) => `${folder}/${frame(shot, name)}`;
    const flip = (file: string, at: number) => {
      const bytes = readFileSync(file);
      bytes[at] ^= 1;
      writeFileSync(file, bytes);
    };
    flip(path(1, 'frame.png'), 100);
    flip(path(1, 'dots.png'), 50);
    rmSync(path(2, 'frame.png'));
    rmSync(path(3, ''), { recursive: true });
    writeFileSync(path(4, 'frame.jpg'), '');
    rmSync(path(5, 'about.json'));
    const journal = readFileSync(`${folder}/journal`);
    writeFileSync(`${folder}/journal`, Buffer.concat([journal, Buffer.from('12345')]));
    const { fault, out } = await run(['verify'], { album: folder });
    expect(out.split('\n').filter(Boolean)).toEqual([
      'journal: 1 lines of the journal are damaged',
      'picture 3: it waits for paper, and is missing; it is lost',
      'picture 1: frame.png: its iTXt chunk fails its checksum; it is lost',
      'picture 2: the frame is missing; it is lost',
      'picture 4: frame.jpg: it is empty; it is lost',
      'picture 5: about.json is missing; the frame says the same of itself',
    ]);
    expect(fault?.exitCode).toBe(5);
    const { out: json } = await run(['verify'], { album: folder, json: true });
    expect(JSON.parse(json)).toMatchObject({ whole: true, damages: { length: 6 } });
  });

  it('any bit flipped in any file of a picture is found', async () => {
    const folder = madeAlbum();
    const luck = chance(4);
    for (let i = 0; i < 60; i++) {
      const shot = luck.whole(1, 5);
      const names = readdirSync(`${folder}/pictures/0000/00000${shot}`);
      const file = `${folder}/${frame(shot, luck.pick(names))}`;
      const bytes = readFileSync(file);
      const damaged = Buffer.from(bytes);
      damaged[luck.whole(0, bytes.length - 1)] ^= 1 << luck.whole(0, 7);
      writeFileSync(file, damaged);
      const { out, fault } = await run(['verify'], { album: folder });
      expect(fault?.code, file).toBe('unreadable');
      expect(out).toContain(`picture ${shot}:`);
      writeFileSync(file, bytes);
    }
  });

  it('pictures exchanged for one another, and an album without a journal', async () => {
    const folder = madeAlbum();
    writeFileSync(`${folder}/${frame(1)}`, readFileSync(`${folder}/${frame(2)}`));
    rmSync(`${folder}/journal`);
    const { out } = await run(['verify'], { album: folder });
    expect(out).toContain('journal: there is no journal');
    expect(out).toContain('picture 1: frame.png is that of picture 2; it is lost');
  });
});

describe('album, wrongly called', () => {
  it.each([
    [[], {}, 'what of the album?'],
    [['lisst'], {}, "album can’t 'lisst'"],
    [['frobnicate'], {}, "album can’t 'frobnicate'"],
    [['show'], {}, 'album show needs a picture’s number'],
    [['show', '9'], {}, 'there is no picture 9 in the album'],
    [['show', '../1'], {}, "'../1' is no picture’s number"],
    [['export'], {}, 'export needs a folder'],
  ])('%j', async (args, values, message) => {
    const { fault } = await run(args, { album: madeAlbum(), ...values });
    expect(fault?.message).toContain(message);
    expect(fault?.exitCode).toBe(2);
  });

  it('where there is no album', async () => {
    const { fault } = await run(['list'], { album: newFolder() });
    expect(fault?.message).toContain('there is no album in');
    expect(fault?.exitCode).toBe(5);
    const folder = newFolder();
    writeFileSync(`${folder}/pictures`, '');
    expect((await run(['list'], { album: folder })).fault?.message).toContain('the album can’t be read');
  });

  it('takes the folder from the configuration', async () => {
    const folder = madeAlbum();
    const config = `${folder}/c.json`;
    writeFileSync(config, JSON.stringify({ album: { folder } }));
    expect((await run(['list', '1'], { config })).out).toContain('000001');
  });
});
