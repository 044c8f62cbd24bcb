import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { afterAll, describe, expect, it } from 'vitest';
import { createVirtualClock } from '../../sim/clock.ts';
import { createDiskModel } from '../../sim/disk.ts';
import { createDiskPort } from '../../sim/disk-port.ts';
import { chance } from '../../sim/random.ts';
import { createAlbum } from '../../src/album/album.ts';
import type { Disk, DiskHeard, DiskSaid } from '../../src/album/disk.ts';
import { defaultConfig } from '../../src/config/schema.ts';
import { createDisk } from '../../src/linux/disk.ts';
import { createBoardClock } from '../../src/linux/inlet.ts';
import type { AlbumSaid, KeepSaid, RecallSaid } from '../../src/parts/album.ts';
import { frameOf, lumaOf } from './fixture.ts';

const root = mkdtempSync(`${tmpdir()}/slipshutter-disk-`);
afterAll(() => rmSync(root, { recursive: true }));

const virtualDisk = () => {
  const clock = createVirtualClock();
  return {
    disk: createDiskPort(clock, createDiskModel(), chance(1)) as Disk,
    settle: () => clock.runUntil(clock.nowUs() + 1e6),
  };
};
let folders = 0;
const realDisk = () => ({ disk: createDisk(`${root}/album/${folders++}`), settle: () => {} });

const ask = <T>({ settle }: { settle(): void }, step: (heard: DiskHeard<T>) => void): Promise<DiskSaid<T>> =>
  new Promise((resolve, reject) => {
    let inside = true;
    step(said => (inside ? reject(new Error('heard inside the call')) : resolve(said)));
    inside = false;
    settle();
  });
const bytes = (text: string) => new TextEncoder().encode(text);
const done = (value?: unknown) => ({ kind: 'done', value });

// What the album asks of a disk, held against the virtual one and the real one.
describe.each([
  ['virtual', virtualDisk],
  ['real', realDisk],
])('a %s disk', (_, make) => {
  it('puts, adds to, reads, renames and removes files', async () => {
    const world = make();
    const { disk } = world;
    expect(await ask(world, heard => disk.put('a', bytes('one'), heard))).toEqual(done());
    expect(await ask(world, heard => disk.append('a', bytes(' two'), heard))).toEqual(done());
    expect(await ask(world, heard => disk.append('b', bytes('made'), heard))).toEqual(done());
    expect(await ask(world, heard => disk.append('b', new Uint8Array(0), heard))).toEqual(done());
    expect(await ask(world, heard => disk.read('a', 100, heard))).toEqual(done(bytes('one two')));
    expect(await ask(world, heard => disk.put('a', bytes('new'), heard))).toEqual(done());
    expect(await ask(world, heard => disk.rename('a', 'b', heard))).toEqual(done());
    expect(await ask(world, heard => disk.read('b', 100, heard))).toEqual(done(bytes('new')));
    expect(await ask(world, heard => disk.list('', heard))).toEqual(done(['b']));
    expect(await ask(world, heard => disk.remove('b', heard))).toEqual(done());
    expect(await ask(world, heard => disk.list('', heard))).toEqual(done([]));
  });

  it('makes, lists, syncs and removes folders', async () => {
    const world = make();
    const { disk } = world;
    expect(await ask(world, heard => disk.makeFolder('f', heard))).toEqual(done());
    expect(await ask(world, heard => disk.makeFolder('f', heard))).toMatchObject({ kind: 'failed', fault: 'exists' });
    expect(await ask(world, heard => disk.put('f/x', bytes('x'), heard))).toEqual(done());
    expect(await ask(world, heard => disk.syncFolder('f', heard))).toEqual(done());
    expect(await ask(world, heard => disk.syncFolder('', heard))).toEqual(done());
    expect(await ask(world, heard => disk.list('f', heard))).toEqual(done(['x']));
    await ask(world, heard => disk.remove('f/x', heard));
    expect(await ask(world, heard => disk.remove('f', heard))).toEqual(done());
    expect(await ask(world, heard => disk.list('f', heard))).toMatchObject({ kind: 'failed', fault: 'missing' });
  });

  it('says what is missing and what is too big, and how much room there is', async () => {
    const world = make();
    const { disk } = world;
    const missing = { kind: 'failed', fault: 'missing' };
    expect(await ask(world, heard => disk.read('none', 9, heard))).toMatchObject(missing);
    expect(await ask(world, heard => disk.remove('none', heard))).toMatchObject(missing);
    expect(await ask(world, heard => disk.rename('none', 'a', heard))).toMatchObject(missing);
    expect(await ask(world, heard => disk.put('no/where', bytes('x'), heard))).toMatchObject(missing);
    expect(await ask(world, heard => disk.makeFolder('no/where', heard))).toMatchObject(missing);
    expect(await ask(world, heard => disk.syncFolder('none', heard))).toMatchObject(missing);
    await ask(world, heard => disk.put('a', bytes('ten bytes.'), heard));
    expect(await ask(world, heard => disk.read('a', 9, heard))).toMatchObject({ kind: 'failed', fault: 'too-big' });
    const room = await ask(world, heard => disk.freeBytes(heard));
    expect(room.kind === 'done' && room.value).toBeGreaterThan(1_000_000);
  });
});

describe('the album on a real disk', () => {
  it('keeps, recalls in another life, and hears of a request while it runs', async () => {
    const folder = `${root}/whole`;
    const life = () => {
      const board = createBoardClock();
      const disk = createDisk(folder, deliver => board.inlet.take('album', {}, deliver));
      const album = createAlbum({ disk, clock: board.clock, config: defaultConfig() });
      let wake = () => {};
      const said: AlbumSaid[] = [];
      const undo = album.open(one => {
        said.push(one);
        wake();
      });
      const hears = (kind: AlbumSaid['kind']): Promise<AlbumSaid> =>
        new Promise(resolve => {
          const look = () => {
            const found = said.find(one => one.kind === kind);
            if (found) resolve(found);
          };
          wake = look;
          look();
        });
      const end = () => {
        undo();
        board.stop();
      };
      return { album, hears, end };
    };
    const about = { takenAtMs: null, pressToFrameUs: 1 };
    const first = life();
    expect(await first.hears('opened')).toMatchObject({ nextShot: 1 });
    expect(await new Promise<KeepSaid>(resolve => first.album.keep(1, frameOf(1), about, resolve))).toEqual({
      kind: 'kept',
    });
    expect(await new Promise<KeepSaid>(resolve => first.album.mark(1, 'printed', resolve))).toEqual({ kind: 'kept' });
    first.end();

    const second = life();
    expect(await second.hears('opened')).toMatchObject({ nextShot: 2, pending: [] });
    const recalled = await new Promise<RecallSaid>(resolve => second.album.recall(1, resolve));
    expect(recalled).toMatchObject({ kind: 'recalled', frame: { data: lumaOf(frameOf(1)) } });
    writeFileSync(`${folder}/wanted/000001`, '');
    expect(await second.hears('asked')).toEqual({ kind: 'asked', shot: 1 });
    second.end();
  });
});
