import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { Script } from 'node:vm';
import { crc32 } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { buildService } from '../../src/bundle.mjs';

const header = (
  source: Buffer,
  payload: Buffer,
  change: Partial<Record<'magic' | 'sourceCrc' | 'crc', number>> = {},
) => {
  const bytes = Buffer.alloc(20);
  bytes.writeUInt32LE(change.magic ?? 0x534c4331, 0);
  bytes.writeUInt32LE(change.sourceCrc ?? crc32(source), 4);
  bytes.writeUInt32LE(source.length, 8);
  bytes.writeUInt32LE(change.crc ?? crc32(payload), 12);
  bytes.writeUInt32LE(payload.length, 16);
  return bytes;
};

describe('the code cache', () => {
  let folder: string;
  let source: Buffer;
  let payload: Buffer;
  const run = (cache: Buffer | null) => {
    const cacheFolder = `${folder}/cache`;
    rmSync(cacheFolder, { recursive: true, force: true });
    mkdirSync(cacheFolder);
    if (cache) writeFileSync(`${cacheFolder}/run-${process.version}-${process.arch}`, cache);
    return execFileSync(process.execPath, [`${folder}/slipshutter.cjs`, 'run', '--help'], {
      encoding: 'utf8',
      env: { ...process.env, CACHE_DIRECTORY: cacheFolder },
    });
  };
  let help = '';

  beforeAll(async () => {
    folder = mkdtempSync(`${tmpdir()}/loader-`);
    await buildService('src/cli/main-run.ts', folder);
    source = readFileSync(`${folder}/run.bundle`);
    payload = new Script(source.toString('latin1'), { filename: `${folder}/run.bundle` }).createCachedData();
    help = run(null);
  });
  afterAll(() => rmSync(folder, { recursive: true }));

  it('isn’t needed', () => expect(help).toContain('slipshutter run [--config FILE]'));
  it('is plain ASCII, which is read as it stands', () => expect(source.every(byte => byte < 128)).toBe(true));
  it('that fits gives the same program', () =>
    expect(run(Buffer.concat([header(source, payload), payload]))).toBe(help));

  it('that is damaged anywhere is as if there were none', () => {
    const whole = Buffer.concat([header(source, payload), payload]);
    for (const at of [0, 5, 9, 13, 17, 21, 200, Math.floor(whole.length / 2), whole.length - 1]) {
      const damaged = Buffer.from(whole);
      damaged[at] ^= 0x40;
      expect(run(damaged)).toBe(help);
    }
    for (const length of [0, 10, 20, 21, Math.floor(whole.length / 2), whole.length - 1])
      expect(run(whole.subarray(0, length))).toBe(help);
    expect(run(Buffer.concat([whole, Buffer.from('x')]))).toBe(help);
  });

  it('of another program never runs, though it is sound in itself', () => {
    const other = Buffer.from("(function(){process.stdout.write('old code')})");
    const old = new Script(other.toString('latin1')).createCachedData();
    expect(run(Buffer.concat([header(other, old), old]))).toBe(help);
    expect(run(Buffer.concat([header(source, old), old]))).toBe(help);
  });
});
