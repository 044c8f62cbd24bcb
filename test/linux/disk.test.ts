import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { describe, expect, it } from 'vitest';
import { createVirtualClock } from '../../sim/clock.ts';
import { createDiskModel } from '../../sim/disk.ts';
import { createDiskPort } from '../../sim/disk-port.ts';
import { chance } from '../../sim/random.ts';
import { createDisk } from '../../src/linux/disk.ts';
import { diskContract } from '../contracts/disk.ts';

diskContract('virtual', () => {
  const clock = createVirtualClock();
  return {
    disk: createDiskPort(clock, createDiskModel(), chance(1)),
    pass: async ms => clock.runUntil(clock.nowUs() + ms * 1000),
    nowUs: clock.nowUs,
    graceUs: () => 0,
    done() {},
  };
});

const turn = () => new Promise<void>(resolve => setImmediate(resolve));

diskContract('a folder of a real file system', () => {
  const top = mkdtempSync(`${tmpdir()}/disk-`);
  return {
    disk: createDisk(`${top}/deep/album`),
    // Nothing is waited for but the file system's own answers.
    pass: turn,
    nowUs: () => 0,
    graceUs: () => 0,
    done: () => rmSync(top, { recursive: true }),
  };
});

describe('the disk', () => {
  it('never leaves its folder', async () => {
    const top = mkdtempSync(`${tmpdir()}/disk-`);
    try {
      const disk = createDisk(`${top}/album`);
      for (const path of ['../out', '/tmp/out', 'a/../../out', 'a\0b'])
        expect(await new Promise(resolve => disk.put(path, Uint8Array.of(1), said => resolve(said.kind)))).toBe(
          'failed',
        );
      expect(existsSync(`${top}/out`)).toBe(false);
    } finally {
      rmSync(top, { recursive: true });
    }
  });

  it('tries to make its folder again once it may', async () => {
    const top = mkdtempSync(`${tmpdir()}/disk-`);
    try {
      const disk = createDisk(`${top}/later/album`);
      const put = () => new Promise(resolve => disk.put('a', Uint8Array.of(1), said => resolve(said.kind)));
      expect(await put()).toBe('done');
      rmSync(`${top}/later`, { recursive: true });
      expect(await put()).toBe('failed');
      expect(await put()).toBe('done');
    } finally {
      rmSync(top, { recursive: true });
    }
  });
});
