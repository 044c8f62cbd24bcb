import { existsSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { describe, expect, it } from 'vitest';
import { createVirtualClock } from '../../sim/clock.ts';
import { createDiskModel } from '../../sim/disk.ts';
import { createDiskPort } from '../../sim/disk-port.ts';
import { chance } from '../../sim/random.ts';
import type { DiskHeard } from '../../src/album/disk.ts';
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

  it('says the same of what the last life left, before it changes anything and after', async () => {
    const top = mkdtempSync(`${tmpdir()}/disk-`);
    try {
      mkdirSync(`${top}/sub`);
      writeFileSync(`${top}/sub/a`, 'left');
      writeFileSync(`${top}/empty`, '');
      const disk = createDisk(top);
      const heard = <T>(start: (heard: DiskHeard<T>) => void) => new Promise(resolve => start(resolve));
      const looks = async () => [
        await heard<string[]>(one => disk.list('sub', one)),
        await heard<string[]>(one => disk.list('none', one)),
        await heard<Uint8Array>(one => disk.read('sub/a', 4, one)),
        await heard<Uint8Array>(one => disk.read('empty', 4, one)),
        await heard<Uint8Array>(one => disk.read('sub/a', 3, one)),
        await heard<Uint8Array>(one => disk.read('none', 3, one)),
        await heard<Uint8Array>(one => disk.read('sub', 1e6, one)),
        await heard<Uint8Array>(one => disk.read('../sub/a', 4, one)),
      ];
      const before = await looks();
      expect(before.map(said => (said as { kind: string }).kind).join()).toBe(
        'done,failed,done,done,failed,failed,failed,failed',
      );
      expect(before[2]).toEqual({ kind: 'done', value: new TextEncoder().encode('left') });
      await heard<void>(one => disk.put('new', Uint8Array.of(1), one));
      expect(await looks()).toEqual(before);
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
