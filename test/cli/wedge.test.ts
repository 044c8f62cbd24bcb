import { existsSync, mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import wedge from '../../src/cli/wedge.ts';
import { loadProfile } from '../../src/config/load-profile.ts';
import { decodePhoto } from '../../src/picture/image.ts';
import { writePng } from '../../src/picture/png.ts';
import { drawWedge } from '../../src/workshop/wedge/draw.ts';
import { scanOf } from '../workshop/wedge/scanner.ts';
import { runCommand } from './io.ts';

const folder = mkdtempSync(join(tmpdir(), 'wedge-'));
const run = (positionals: string[], values: Record<string, string | boolean> = {}) =>
  runCommand(wedge, positionals, values);
const scanPath = join(folder, 'scan.png');
const scan = scanOf(drawWedge(384), { turnDegrees: 4, dotRadius: 0.75, pxPerDot: 2 });
writeFileSync(scanPath, writePng({ widthPx: scan.widthPx, heightPx: scan.heightPx, bits: 8, data: scan.data }));

describe('wedge print', () => {
  it('writes the wedge at its dots, at paper size', async () => {
    const out = join(folder, 'wedge.png');
    const { code, out: said } = await run(['print'], { out, profile: 'panel-58mm' });
    expect(code).toBe(0);
    expect(said).toContain('384 × 514 dots, 64 mm');
    const picture = decodePhoto(readFileSync(out), 'wedge.png');
    const dots = drawWedge(384);
    expect([picture.widthPx, picture.heightPx]).toEqual([384, 514]);
    picture.data.forEach((code, i) => {
      const x = i % 384;
      const bit = (dots.data[Math.floor(i / 384) * dots.strideBytes + (x >> 3)] >> (7 - (x & 7))) & 1;
      if (code !== (bit ? 0 : 255)) expect.unreachable(`dot ${i}`);
    });
  });
});

describe('wedge read', () => {
  it('writes curve and radius into a copy of the class; the profile loads', async () => {
    const out = join(folder, 'mine.json');
    const { code, out: said } = await run(['read', scanPath], { out, profile: 'panel-58mm' });
    expect(code).toBe(0);
    expect(said).toContain('dots asked');
    const profile = loadProfile(out);
    expect(profile.dotRadius).toBeCloseTo(0.75, 1);
    expect(profile.toneCurve.length).toBe(22);
    expect(profile.title).toBe(loadProfile('panel-58mm').title);
  });
  it('keeps comments and settings of a profile of one’s own', async () => {
    const own = join(folder, 'own.json');
    writeFileSync(own, '{\n  // bought second-hand\n  "title": "mine",\n  "tearMm": 11\n}\n');
    expect((await run(['read', scanPath], { profile: own })).code).toBe(0);
    const text = readFileSync(own, 'utf8');
    expect(text).toContain('// bought second-hand');
    expect(loadProfile(own)).toMatchObject({ title: 'mine', tearMm: 11 });
    expect(loadProfile(own).toneCurve[0]).toEqual([0, 0]);
  });
  it('--json gives figures alone', async () => {
    const { out } = await run(['read', scanPath], { out: join(folder, 'j.json'), profile: 'panel-58mm', json: true });
    const figures = JSON.parse(out);
    expect(figures.curve.at(-1)).toEqual([1, 1]);
    expect(figures.optical.n).toBeGreaterThanOrEqual(1);
  });
  it.each<[string, string[], Record<string, string>, number, RegExp]>([
    ['no deed', [], {}, 2, /print or read/],
    ['an unknown deed', ['draw'], {}, 2, /can’t draw/],
    ['no scan', ['read'], {}, 2, /one scan/],
    ['two scans', ['read', 'a.png', 'b.png'], {}, 2, /one scan/],
    ['no such file', ['read', join(folder, 'none.png')], {}, 5, /no such file/],
    ['a folder', ['read', folder], {}, 5, /is a folder/],
    ['another printer', ['read', scanPath], { profile: 'panel-80mm' }, 5, /384 dots wide/],
    ['nowhere to write', ['print'], { out: join(folder, 'no', 'where.png') }, 5, /can’t be written/],
  ])('%s is refused', async (_, positionals, values, exitCode, words) => {
    await expect(run(positionals, { profile: 'panel-58mm', ...values })).rejects.toMatchObject({
      exitCode,
      message: expect.stringMatching(words),
    });
    expect(existsSync(join(folder, 'no'))).toBe(false);
  });
});
