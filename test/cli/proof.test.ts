import { existsSync, mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { encode } from 'jpeg-js';
import { describe, expect, it } from 'vitest';
import proof from '../../src/cli/proof.ts';
import { decodePhoto } from '../../src/picture/image.ts';
import { writePng } from '../../src/picture/png.ts';
import { runCommand } from './io.ts';

const folder = mkdtempSync(join(tmpdir(), 'proof-'));
const [widthPx, heightPx] = [90, 120];
const data = Uint8Array.from({ length: widthPx * heightPx }, (_, i) => (i % widthPx) * 2 + Math.floor(i / widthPx) / 2);
const good = join(folder, 'good.png');
writeFileSync(good, writePng({ widthPx, heightPx, bits: 8, data }));
const rgba = new Uint8Array(widthPx * heightPx * 4).fill(255);
data.forEach((code, i) => {
  rgba.fill(code, 4 * i, 4 * i + 3);
});
const jpeg = join(folder, 'good.jpg');
writeFileSync(jpeg, encode({ width: widthPx, height: heightPx, data: rgba }, 90).data);
const cut = join(folder, 'cut.jpg');
writeFileSync(cut, readFileSync(jpeg).subarray(0, 900));

const run = (
  positionals: string[],
  values: Record<string, string | boolean | string[]> = {},
  { terminal = false, aborted = false } = {},
) =>
  runCommand(
    proof,
    positionals,
    { profile: 'panel-58mm', ...values },
    { terminal: terminal && 'err', signal: aborted ? AbortSignal.abort() : undefined },
  );

describe('proof', () => {
  it('draws the paper, three pixels a dot, at its size', async () => {
    const out = join(folder, 'one');
    const { code, out: said, err } = await run([good], { out, look: ['plain'] });
    expect([code, err]).toEqual([0, '']);
    expect(said).toMatch(/good\.png {2}\d+ % dots/);
    const paper = decodePhoto(readFileSync(join(out, 'good.png')), 'p');
    expect([paper.widthPx, paper.heightPx]).toEqual([(384 + 48) * 3, (512 + 48) * 3]);
    // The photo is dark at the left and bright at the right; so is the proof.
    const mean = (from: number, to: number) => {
      let sum = 0;
      for (let y = 200; y < 1400; y++) for (let x = from; x < to; x++) sum += paper.data[y * paper.widthPx + x];
      return sum / 1200 / (to - from);
    };
    expect(mean(1000, 1200)).toBeGreaterThan(mean(100, 300) + 60);
  });
  it('lays several looks side by side, each once, with their names', async () => {
    const out = join(folder, 'two');
    const { out: said } = await run([good], { out, look: ['plain', 'line', 'plain'], json: true });
    expect(JSON.parse(said).proofs[0].looks).toEqual(['plain', 'line']);
    const paper = decodePhoto(readFileSync(join(out, 'good.png')), 'p');
    expect([paper.widthPx, paper.heightPx]).toEqual([2 * (384 + 48) * 3, (512 + 32 + 48) * 3]);
  });
  it('photos of one name don’t write over each other; progress shows on a terminal', async () => {
    const out = join(folder, 'same');
    const { err } = await run([good, jpeg], { out, look: ['plain'] }, { terminal: true });
    expect(existsSync(join(out, 'good-2.png'))).toBe(true);
    expect(err).toContain('of 2 photos');
  });
  it('a large PNG is reduced as it is read and gives the same paper; one beyond a thousand megapixels is refused', async () => {
    const times = 48;
    const [wide, high] = [widthPx * times, heightPx * times];
    const enlarged = new Uint8Array(wide * high);
    for (let y = 0; y < high; y++) {
      const row = enlarged.subarray(y * wide, (y + 1) * wide);
      if (y % times > 0) row.set(enlarged.subarray((y - 1) * wide, y * wide));
      else
        for (let x = 0; x < widthPx; x++)
          row.fill(data[Math.floor(y / times) * widthPx + x], x * times, (x + 1) * times);
    }
    const large = join(folder, 'large.png');
    writeFileSync(large, writePng({ widthPx: wide, heightPx: high, bits: 8, data: enlarged }, 1));
    const bomb = join(folder, 'bomb.png');
    const head = Buffer.from(readFileSync(good));
    head.writeUInt32BE(40_000, 16);
    head.writeUInt32BE(40_000, 20);
    writeFileSync(bomb, head);
    const out = join(folder, 'large');
    const { code, out: said, err } = await run([large, good, bomb], { out, look: ['plain'], json: true });
    const [one, other] = JSON.parse(said).proofs;
    expect(Math.abs(one.inkPercent[0] - other.inkPercent[0])).toBeLessThanOrEqual(1);
    expect([code, err]).toEqual([
      5,
      expect.stringMatching(/bomb\.png: 40000 × 40000 pixels are 100 megapixels or more/),
    ]);
  });
  it('one bad photo doesn’t stop the others; the exit code is 5', async () => {
    const out = join(folder, 'bad');
    const { code, err } = await run([cut, join(folder, 'none.png'), good], { out, look: ['plain'] });
    expect(code).toBe(5);
    expect(err).toMatch(/cut\.jpg: .*cut short/);
    expect(err).toMatch(/none\.png: .*no such file/);
    expect(existsSync(join(out, 'good.png'))).toBe(true);
  });
  it('no photo, an unknown look, an interruption: said, and nothing is left behind', async () => {
    const out = join(folder, 'never');
    await expect(run([], { out })).rejects.toMatchObject({ exitCode: 2 });
    await expect(run([good], { out, look: ['sfot'] })).rejects.toMatchObject({
      exitCode: 2,
      message: expect.stringMatching(/sfot/),
    });
    await expect(run([good], { out, look: ['plain'] }, { aborted: true })).rejects.toThrow(/interrupted/);
    expect(existsSync(join(out, 'good.png'))).toBe(false);
  });
});
