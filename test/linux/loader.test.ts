import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, statSync, utimesSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { buildService } from '../../src/bundle.mjs';
import { cacheOf, sumOf } from '../../src/code-cache.ts';

/** As the loader names its program. */
const programOf = (file: string): string => {
  const source = readFileSync(file);
  const { mtimeMs, ctimeMs } = statSync(file);
  return `${source.toString('latin1').trimEnd().slice(-64)} ${source.length} ${mtimeMs} ${ctimeMs}`;
};

/** V8's cache, made as the loader does: by a bare node, since flags of the test's own process would make V8 refuse it. */
const codeOf = (text: string): Buffer =>
  execFileSync(
    process.execPath,
    [
      '-e',
      "process.stdout.write(new (require('vm').Script)(require('fs').readFileSync(0, 'latin1')).createCachedData())",
    ],
    { input: text, maxBuffer: 1e8 },
  );

describe('the code cache', () => {
  let folder: string;
  let source: Buffer;
  let program: string;
  let code: Buffer;
  /** Code of a program of the same length that says something else. */
  let otherCode: Buffer;
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
    program = programOf(`${folder}/run.bundle`);
    const text = source.toString('latin1');
    code = codeOf(text);
    otherCode = codeOf(text.replaceAll('/etc/slipshutter/', '/old/slipshutter/'));
    help = run(null);
  });
  afterAll(() => rmSync(folder, { recursive: true }));

  it('isn’t needed', () => expect(help).toContain('slipshutter run [--config FILE]'));
  it('is plain ASCII, which is read as it stands', () => expect(source.every(byte => byte < 128)).toBe(true));
  it('that fits gives the same program', () => expect(run(cacheOf(program, code))).toBe(help));
  it('that fits is what runs: V8 itself tells programs apart by their length alone', () =>
    expect(run(cacheOf(program, otherCode))).toContain('/old/slipshutter/'));

  it('that is damaged anywhere is as if there were none', () => {
    const whole = cacheOf(program, code);
    const codeAt = whole.indexOf('\n') + 1;
    for (const at of [0, 70, codeAt - 10, codeAt - 1, codeAt, codeAt + 200, whole.length >> 1, whole.length - 1]) {
      const damaged = Buffer.from(whole);
      damaged[at] ^= 0x40;
      expect(run(damaged)).toBe(help);
    }
    for (const length of [0, 10, codeAt - 1, codeAt, codeAt + 1, whole.length >> 1, whole.length - 1])
      expect(run(whole.subarray(0, length))).toBe(help);
    expect(run(Buffer.concat([whole, Buffer.from('x')]))).toBe(help);
  });

  it('of another program never runs, though it is sound in itself', () => {
    const [name, ...rest] = program.split(' ');
    expect(run(cacheOf([name.replace(/./g, '0'), ...rest].join(' '), otherCode))).toBe(help);
    const short = codeOf("(function(){process.stdout.write('old code')})");
    expect(run(cacheOf(program, short))).toBe(help);
  });

  it('of before somebody changed the file by hand never runs', () => {
    const file = `${folder}/run.bundle`;
    const { mode } = statSync(file);
    writeFileSync(file, source, { mode });
    utimesSync(file, 1, 1);
    expect(run(cacheOf(program, otherCode))).toBe(help);
  });
});

describe('its sum', () => {
  it('adds words of 64 bits, each after all before were multiplied: the same by whole numbers of any size', () => {
    const factor = 0x36722ab6553ba995n;
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 300 }), bytes => {
        const padded = Buffer.alloc(Math.max(8, Math.ceil(bytes.length / 8) * 8));
        padded.set(bytes);
        let sum = 0n;
        for (let at = 0; at < padded.length; at += 8)
          sum = BigInt.asUintN(64, sum * factor + padded.readBigUInt64LE(at));
        expect(sumOf(bytes)).toBe(sum.toString(16));
      }),
    );
  });
  it('reaches across pages', () => {
    const bytes = new Uint8Array(200_000).fill(7);
    const before = sumOf(bytes);
    bytes[199_999] ^= 1;
    expect(sumOf(bytes)).not.toBe(before);
  });
});
