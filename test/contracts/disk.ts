import { expect } from 'vitest';
import type { Disk, DiskHeard, DiskSaid } from '../../src/album/disk.ts';
import { contract, type Make, type Passing } from './make.ts';

export interface DiskBench extends Passing {
  disk: Disk;
}

/** One step: heard exactly once, later than the call. */
const step = async <T>(bench: DiskBench, start: (heard: DiskHeard<T>) => void): Promise<DiskSaid<T>> => {
  const said: DiskSaid<T>[] = [];
  start(one => said.push(one));
  expect(said).toEqual([]);
  while (said.length === 0) await bench.pass(5);
  await bench.pass(5);
  expect(said).toHaveLength(1);
  return said[0];
};
const value = async <T>(bench: DiskBench, start: (heard: DiskHeard<T>) => void): Promise<T> => {
  const said = await step(bench, start);
  if (said.kind === 'failed') throw new Error(said.why);
  return said.value;
};
const fault = async <T>(bench: DiskBench, start: (heard: DiskHeard<T>) => void): Promise<string> => {
  const said = await step(bench, start);
  return said.kind === 'failed' ? said.fault : 'none';
};
const bytes = (text: string) => new TextEncoder().encode(text);
const text = (of: Uint8Array) => new TextDecoder().decode(of);

export const diskContract = (name: string, make: Make<DiskBench>): void =>
  contract('disk', name, make, {
    'makes the album’s folder, and lists nothing in it': async bench => {
      expect(await value<string[]>(bench, heard => bench.disk.list('', heard))).toEqual([]);
    },
    'puts a file in place of its old bytes, and adds to its end': async bench => {
      const { disk } = bench;
      await value<void>(bench, heard => disk.put('a', bytes('long enough'), heard));
      await value<void>(bench, heard => disk.put('a', bytes('one'), heard));
      await value<void>(bench, heard => disk.append('a', bytes(' two'), heard));
      await value<void>(bench, heard => disk.append('new', bytes('made'), heard));
      expect(text(await value<Uint8Array>(bench, heard => disk.read('a', 100, heard)))).toBe('one two');
      expect(text(await value<Uint8Array>(bench, heard => disk.read('new', 4, heard)))).toBe('made');
      await value<void>(bench, heard => disk.syncFolder('', heard));
    },
    'says what is missing, too big or there already': async bench => {
      const { disk } = bench;
      expect(await fault(bench, heard => disk.read('none', 10, heard))).toBe('missing');
      expect(await fault(bench, heard => disk.remove('none', heard))).toBe('missing');
      expect(await fault(bench, heard => disk.rename('none', 'other', heard))).toBe('missing');
      expect(await fault(bench, heard => disk.put('no/such/folder', bytes('x'), heard))).toBe('missing');
      await value<void>(bench, heard => disk.put('a', bytes('four'), heard));
      expect(await fault(bench, heard => disk.read('a', 3, heard))).toBe('too-big');
      await value<void>(bench, heard => disk.makeFolder('folder', heard));
      expect(await fault(bench, heard => disk.makeFolder('folder', heard))).toBe('exists');
    },
    'renames over a file, moves a folder, removes both': async bench => {
      const { disk } = bench;
      await value<void>(bench, heard => disk.put('a', bytes('new'), heard));
      await value<void>(bench, heard => disk.put('b', bytes('old'), heard));
      await value<void>(bench, heard => disk.rename('a', 'b', heard));
      expect(text(await value<Uint8Array>(bench, heard => disk.read('b', 10, heard)))).toBe('new');
      await value<void>(bench, heard => disk.makeFolder('folder', heard));
      await value<void>(bench, heard => disk.put('folder/in', bytes('x'), heard));
      await value<void>(bench, heard => disk.rename('folder', 'moved', heard));
      expect(await value<string[]>(bench, heard => disk.list('moved', heard))).toEqual(['in']);
      await value<void>(bench, heard => disk.remove('moved/in', heard));
      await value<void>(bench, heard => disk.remove('moved', heard));
      expect(await value<string[]>(bench, heard => disk.list('', heard))).toEqual(['b']);
    },
    'says how much room is left': async bench => {
      expect(await value<number>(bench, heard => bench.disk.freeBytes(heard))).toBeGreaterThan(1_000_000);
    },
  });
