import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { chance } from '../../sim/random.ts';
import { losePower, readWrites } from './disk.ts';

/**
 * A log as the kernel's documentation of dm-log-writes has it (Documentation/admin-guide/device-mapper/log-writes.rst, and
 * `struct log_write_super`, `struct log_write_entry` of drivers/md/dm-log-writes.c; from memory): a sector of header, then
 * for each request a sector about it and its data.
 */
const logOf = (requests: readonly { flags: number; sector: number; data: Uint8Array }[]): Buffer => {
  const sector = () => Buffer.alloc(512);
  const head = sector();
  head.writeBigUInt64LE(0x6a736677736872n, 0);
  head.writeBigUInt64LE(1n, 8);
  head.writeBigUInt64LE(BigInt(requests.length), 16);
  head.writeUInt32LE(512, 24);
  const parts = requests.flatMap(({ flags, sector: at, data }) => {
    const about = sector();
    [at, data.length / 512, flags, 0].forEach((value, i) => {
      about.writeBigUInt64LE(BigInt(value), i * 8);
    });
    return [about, Buffer.from(data)];
  });
  return Buffer.concat([head, ...parts]);
};
const flush = { flags: 1, sector: 0, data: new Uint8Array(0) };
const write = (sector: number, fill: number, sectors = 1) => ({
  flags: 0,
  sector,
  data: new Uint8Array(512 * sectors).fill(fill),
});

const folder = mkdtempSync(join(tmpdir(), 'disk-'));
afterAll(() => rmSync(folder, { recursive: true }));
const disk = join(folder, 'disk');

const cut = (seed: number) => {
  writeFileSync(`${disk}.before`, new Uint8Array(512 * 8));
  const log = logOf([write(0, 1), write(1, 2), flush, write(0, 3), write(4, 4, 4)]);
  writeFileSync(`${disk}.writes`, log);
  const loss = losePower(disk, chance(seed));
  const bytes = readFileSync(disk);
  return { loss, sectors: Array.from({ length: 8 }, (_, i) => bytes[i * 512]) };
};

describe('a disk that forgets', () => {
  it('keeps what was flushed, and of what came later whole writes, beginnings of them, or nothing', () => {
    const seen = Array.from({ length: 200 }, (_, seed) => cut(seed));
    for (const { sectors, loss } of seen) {
      expect(sectors[1]).toBe(2);
      expect([1, 3]).toContain(sectors[0]);
      // A torn write ends at a sector, and nothing follows the tear.
      expect(sectors.slice(4).join('')).toMatch(/^4*0*$/);
      expect(loss).toMatchObject({ flushes: 1 });
      expect(loss.whole + loss.torn + loss.lost).toBe(2);
    }
    const tails = new Set(seen.map(({ sectors }) => sectors.slice(4).join('')));
    expect([...tails].sort()).toEqual(['0000', '4000', '4400', '4440', '4444']);
    expect(new Set(seen.map(({ sectors }) => sectors[0]))).toEqual(new Set([1, 3]));
  });

  it('reads a log that ends where the emulator died, and refuses what is none', () => {
    const log = logOf([write(0, 1), flush, write(2, 2, 2)]);
    expect(readWrites(log).map(({ kind, at, data }) => [kind, at, data.length])).toEqual([
      ['write', 0, 512],
      ['flush', 0, 0],
      ['write', 1024, 1024],
    ]);
    expect(readWrites(log.subarray(0, log.length - 100)).map(({ kind }) => kind)).toEqual(['write', 'flush']);
    expect(readWrites(Buffer.alloc(0))).toEqual([]);
    expect(() => readWrites(Buffer.alloc(512))).toThrow('no log of writes');
  });
});
