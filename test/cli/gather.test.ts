import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { chance } from '../../sim/random.ts';
import { cleanWear, takeScan } from '../../sim/scanner/scanner.ts';
import { picturePath } from '../../src/album/layout.ts';
import gather from '../../src/cli/gather.ts';
import { decodePhoto } from '../../src/picture/image.ts';
import { writePng } from '../../src/picture/png.ts';
import { diffuse, stripOf, toneImage } from '../gather/fixture.ts';
import { runCommand } from './io.ts';

const folder = mkdtempSync(join(tmpdir(), 'gather-'));

const scanFile = (name: string, shots: readonly number[], dpi: number, mark = 'SLIP'): string => {
  const draw = chance(shots[0]);
  const strip = stripOf(
    shots.map(shot => ({ shot, body: diffuse(toneImage(384, 200, draw), 384, 200) })),
    mark,
  );
  const heightMm = 40 + shots.length * 40;
  const { image } = takeScan(
    [{ dots: strip.dots, xMm: 32, yMm: heightMm / 2, turnDegrees: 2 }],
    { widthMm: 64, heightMm, dpi },
    cleanWear,
    draw,
  );
  const path = join(folder, name);
  writeFileSync(path, writePng({ widthPx: image.widthPx, heightPx: image.heightPx, bits: 8, data: image.data }));
  return path;
};

const run = (positionals: string[], values: Record<string, string | boolean>) =>
  runCommand(gather, positionals, values);

describe('gather', () => {
  it('names pictures, merges twins, takes the album’s originals, and goes on past a bad scan', async () => {
    const coarse = scanFile('coarse.png', [41, 42], 200);
    const fine = scanFile('fine.png', [41], 500);
    const bad = join(folder, 'bad.png');
    writeFileSync(bad, readFileSync(fine).subarray(0, 4000));
    const album = join(folder, 'album');
    mkdirSync(join(album, picturePath(42)), { recursive: true });
    const original = writePng({ widthPx: 4, heightPx: 4, bits: 8, data: new Uint8Array(16).fill(99) });
    writeFileSync(join(album, picturePath(42), 'frame.png'), original);

    const out = join(folder, 'out');
    const { code, out: words, err } = await run([coarse, fine, bad], { out, album });
    expect(code).toBe(5);
    expect(err).toContain('bad.png');
    expect(readdirSync(out).sort()).toEqual([
      'SLIP-000041-dots.png',
      'SLIP-000041.png',
      'SLIP-000042-restored.png',
      'SLIP-000042.png',
      'contact-sheet.png',
      'index.html',
    ]);
    expect(readFileSync(join(out, 'SLIP-000042.png')).equals(original)).toBe(true);
    expect(words).toContain('best of 2');
    const restored = decodePhoto(readFileSync(join(out, 'SLIP-000041.png')), 'restored');
    expect([restored.widthPx, restored.heightPx]).toEqual([384, 200]);
    expect(readFileSync(join(out, 'index.html'), 'utf8')).toContain('SLIP-000041');
  });

  it('keeps two cameras apart', async () => {
    const ours = scanFile('ours.png', [7], 300);
    const theirs = scanFile('theirs.png', [7], 300, 'AUNT');
    const out = join(folder, 'two');
    const { code } = await run([ours, theirs], { out });
    expect(code).toBe(0);
    expect(readdirSync(out)).toEqual(expect.arrayContaining(['SLIP-000007.png', 'AUNT-000007.png']));
  });

  it('says what is missing before it reads anything', async () => {
    await expect(run([], { out: 'x' })).rejects.toThrow('no scan');
    await expect(run(['a.png'], {})).rejects.toThrow('--out');
    await expect(run(['a.png'], { out: join(folder, 'x'), album: join(folder, 'nowhere') })).rejects.toThrow(
      'no such folder',
    );
    expect(existsSync(join(folder, 'x'))).toBe(false);
  });

  it('names a scan that isn’t there', async () => {
    const { code, err } = await run([join(folder, 'nobody.png')], { out: join(folder, 'y') });
    expect(code).toBe(5);
    expect(err).toContain('nobody.png: can’t be read: there is no such file');
  });

  it('says of a scan without any picture that it is one', async () => {
    const bare = join(folder, 'bare.png');
    writeFileSync(bare, writePng({ widthPx: 200, heightPx: 300, bits: 8, data: new Uint8Array(60_000).fill(240) }));
    const { code, out, err } = await run([bare], { out: join(folder, 'z') });
    expect(code).toBe(5);
    expect(out).toMatch(/^0 pictures in /);
    expect(err).toContain('bare.png: ');
  });
});
