import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { createDiskModel, DiskError } from '../../sim/disk.ts';
import { chance } from '../../sim/random.ts';

const bytes = (text: string) => new TextEncoder().encode(text);
const text = (data: Uint8Array) => new TextDecoder().decode(data);
const code = (run: () => void): string => {
  try {
    run();
  } catch (error) {
    if (error instanceof DiskError) return error.code;
    throw error;
  }
  return 'none';
};
/** What a path reads as after a cut, over many lots. */
const outcomes = (prepare: (disk: ReturnType<typeof createDiskModel>) => void, path: string): Set<string> => {
  const seen = new Set<string>();
  for (let seed = 0; seed < 300; seed++) {
    const disk = createDiskModel();
    prepare(disk);
    disk.powerCut(chance(seed));
    seen.add(disk.exists(path) ? text(disk.read(path)) : '(not there)');
  }
  return seen;
};

// What may survive a cut: POSIX fsync(2) keeps a file's bytes, an fsync of the folder its name (manual page); rename(2) is atomic.
describe('a virtual disk at a power cut', () => {
  it('keeps what was synced, file and folder', () => {
    const seen = outcomes(disk => {
      disk.write('a', bytes('hello'));
      disk.sync('a');
      disk.syncFolder('');
    }, 'a');
    expect([...seen]).toEqual(['hello']);
  });

  it('may lose the name when the folder wasn’t synced', () => {
    const seen = outcomes(disk => {
      disk.write('a', bytes('hello'));
      disk.sync('a');
    }, 'a');
    expect(seen).toContain('(not there)');
    expect(seen).toContain('hello');
    expect(seen.size).toBe(2);
  });

  it('may tear bytes when the file wasn’t synced', () => {
    const seen = outcomes(disk => {
      disk.write('a', bytes('hello'));
      disk.syncFolder('');
    }, 'a');
    expect(seen).toContain('');
    expect(seen).toContain('hello');
    expect(seen).toContain('hel');
    expect([...seen].some(left => left.includes('\0'))).toBe(true);
  });

  it('a rename is the old file or the new one, never none', () => {
    const seen = outcomes(disk => {
      disk.write('a', bytes('old'));
      disk.sync('a');
      disk.syncFolder('');
      disk.write('a.new', bytes('new'));
      disk.sync('a.new');
      disk.rename('a.new', 'a');
    }, 'a');
    expect(seen).toEqual(new Set(['old', 'new']));
  });

  it('an append leaves the safe part whole', () => {
    const seen = outcomes(disk => {
      disk.write('a', bytes('safe|'));
      disk.sync('a');
      disk.syncFolder('');
      disk.append('a', bytes('tail'));
    }, 'a');
    for (const left of seen) expect(left.startsWith('safe|')).toBe(true);
    expect(seen.size).toBeGreaterThan(3);
  });

  it('names appear in the order they were made', () => {
    for (let seed = 0; seed < 100; seed++) {
      const disk = createDiskModel();
      disk.makeFolder('f');
      disk.syncFolder('');
      for (const name of ['1', '2', '3']) disk.write(`f/${name}`, bytes(name));
      disk.powerCut(chance(seed));
      expect(['1', '2', '3'].slice(0, disk.list('f').length)).toEqual(disk.list('f'));
    }
  });
});

describe('a virtual disk', () => {
  it('counts its bytes through any sequence, cuts included', () => {
    const name = fc.constantFrom('a', 'b', 'f/a', 'f/b');
    const deed = fc.oneof(
      fc.record({ do: fc.constant('write' as const), name, length: fc.nat(200) }),
      fc.record({ do: fc.constant('append' as const), name, length: fc.nat(200) }),
      fc.record({ do: fc.constantFrom('remove', 'sync', 'cut' as const), name, length: fc.constant(0) }),
      fc.record({ do: fc.constant('rename' as const), name, length: fc.nat(3) }),
    );
    fc.assert(
      fc.property(fc.array(deed, { maxLength: 40 }), fc.nat(), (deeds, seed) => {
        const disk = createDiskModel(500);
        disk.makeFolder('f');
        disk.syncFolder('');
        for (const { do: what, name: path, length } of deeds) {
          code(() => {
            if (what === 'write') disk.write(path, new Uint8Array(length));
            else if (what === 'append') disk.append(path, new Uint8Array(length));
            else if (what === 'remove') disk.remove(path);
            else if (what === 'sync') disk.sync(path);
            else if (what === 'rename') disk.rename(path, ['a', 'b', 'f/a', 'f/b'][length]);
            else disk.powerCut(chance(seed));
          });
          const all = ['', 'f'].flatMap(folder => disk.list(folder).map(entry => `${folder}/${entry}`));
          const used = all.filter(path => !disk.isFolder(path)).reduce((sum, path) => sum + disk.read(path).length, 0);
          expect(disk.freeBytes()).toBe(500 - used);
        }
      }),
      { seed: 11, numRuns: 200 },
    );
  });

  it('says why it refuses', () => {
    const disk = createDiskModel(10);
    expect(code(() => disk.read('none'))).toBe('ENOENT');
    expect(code(() => disk.write('no/where', bytes('x')))).toBe('ENOENT');
    expect(code(() => disk.write('a', bytes('twelve bytes')))).toBe('ENOSPC');
    expect(text(disk.read('a'))).toBe('twelve byt');
    disk.readOnly(true);
    expect(code(() => disk.append('a', bytes('x')))).toBe('EROFS');
  });
});
