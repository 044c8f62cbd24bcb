import { describe, expect, it } from 'vitest';
import { createDiskModel } from '../../sim/disk.ts';
import { chance } from '../../sim/random.ts';
import { frameOf, openedOf, startLife } from './fixture.ts';

describe('a disk in trouble', () => {
  it('full: says so, goes on, and heals by itself when there is room', () => {
    const disk = createDiskModel(1_100_000);
    const life = startLife(disk);
    life.settle();
    const used = 1_100_000 - disk.freeBytes();
    disk.capacity(used + 1_000_500);
    life.settle(100);
    expect(life.keep(1)).toEqual({ kind: 'kept' });
    life.keep(2);
    const failed = life.keep(3);
    expect(failed).toEqual({ kind: 'failed', why: 'only 0 MB are free on the disk' });
    // What is printed from memory still gets its marks.
    expect(life.mark(3, 'closing')).toEqual({ kind: 'kept' });
    expect(life.said.map(one => one.kind)).toEqual(['opened', 'trouble']);
    disk.capacity(10_000_000);
    life.settle(6000);
    expect(life.said.map(one => one.kind)).toEqual(['opened', 'trouble', 'healed']);
    expect(life.keep(4)).toEqual({ kind: 'kept' });
  });

  it('read-only from the start, later writable: the camera is told at once, the album opens when it can', () => {
    const disk = createDiskModel();
    disk.readOnly(true);
    const life = startLife(disk);
    life.settle();
    expect(life.said).toEqual([{ kind: 'trouble', why: expect.stringContaining('EROFS') }]);
    expect(life.keep(1)).toMatchObject({ kind: 'failed', why: expect.stringContaining('EROFS') });
    expect(life.mark(1, 'closing')).toMatchObject({ kind: 'failed' });
    disk.readOnly(false);
    life.settle(6000);
    expect(life.said.map(one => one.kind)).toEqual(['trouble', 'opened', 'healed']);
    expect(life.keep(2)).toEqual({ kind: 'kept' });
  });

  it('read-only in the middle: marks that failed are written once it heals', () => {
    const disk = createDiskModel();
    const life = startLife(disk);
    life.settle();
    life.keep(1);
    life.settle();
    disk.readOnly(true);
    expect(life.keep(2)).toMatchObject({ kind: 'failed' });
    expect(life.mark(1, 'closing')).toMatchObject({ kind: 'failed' });
    expect(life.mark(1, 'printed')).toMatchObject({ kind: 'failed' });
    disk.readOnly(false);
    life.settle(6000);
    expect(life.said.map(one => one.kind)).toEqual(['opened', 'trouble', 'healed']);
    disk.powerCut(chance(3));
    const next = startLife(disk);
    next.settle();
    expect(openedOf(next)).toMatchObject({ pending: [], nextShot: 2 });
  });

  it('a mark that failed is written with the next one that doesn’t', () => {
    const disk = createDiskModel();
    const life = startLife(disk);
    life.settle();
    life.keep(1);
    life.keep(2);
    disk.readOnly(true);
    expect(life.mark(1, 'printed')).toMatchObject({ kind: 'failed' });
    disk.readOnly(false);
    expect(life.mark(2, 'printed')).toEqual({ kind: 'kept' });
    life.end();
    disk.powerCut(chance(1));
    const next = startLife(disk);
    next.settle();
    expect(openedOf(next)).toMatchObject({ pending: [], nextShot: 3 });
  });

  it('a mark that overtakes the keeping of its picture stands', () => {
    const disk = createDiskModel();
    const life = startLife(disk);
    life.settle();
    const heard: string[] = [];
    life.album.keep(1, frameOf(1), { takenAtMs: null, pressToFrameUs: 1 }, said => heard.push(said.kind));
    life.album.mark(1, 'closing', said => heard.push(said.kind));
    life.settle();
    expect(heard).toEqual(['kept', 'kept']);
    const next = startLife(disk);
    next.settle();
    expect(openedOf(next).pending).toEqual([{ shot: 1, mark: 'closing' }]);
  });

  it('without a journal that is durable nothing is acknowledged', () => {
    const disk = createDiskModel();
    const life = startLife(disk, {
      wrap: under => ({
        ...under,
        put: (path, bytes, heard) =>
          path === 'journal.new'
            ? under.freeBytes(() => heard({ kind: 'failed', fault: 'failed', why: 'EIO' }))
            : under.put(path, bytes, heard),
      }),
    });
    life.settle(20_000);
    expect(life.said).toEqual([{ kind: 'trouble', why: 'EIO' }]);
    expect(life.keep(1)).toEqual({ kind: 'failed', why: 'EIO' });
  });

  it('a step that fails once: the picture isn’t acknowledged, its place is cleared, the next is kept', () => {
    const disk = createDiskModel();
    const life = startLife(disk);
    life.settle();
    life.port.control.fail(1);
    expect(life.keep(1)).toMatchObject({ kind: 'failed', why: expect.stringContaining('EIO') });
    expect(life.keep(2)).toEqual({ kind: 'kept' });
    life.settle(6000);
    expect(life.said.map(one => one.kind)).toEqual(['opened', 'trouble', 'healed']);
    expect(disk.list('pictures/0000')).not.toContain('000001');
    expect(disk.list('pictures/0000/000002').sort()).toEqual(['about.json', 'frame.png']);
  });

  it('the album’s folder cleared away by somebody: made again', () => {
    const disk = createDiskModel();
    const life = startLife(disk);
    life.settle();
    life.keep(1);
    for (const top of disk.list('')) disk.remove(top);
    expect(life.keep(2)).toEqual({ kind: 'kept' });
    life.settle(6000);
    expect(disk.list('pictures/0000/000002').sort()).toEqual(['about.json', 'frame.png']);
    const next = startLife(disk);
    next.settle();
    expect(openedOf(next).nextShot).toBe(3);
    expect(next.recall(1)).toMatchObject({ kind: 'failed' });
  });

  it('a journal that can’t be read counts as lost after a minute; numbers go on after the highest', () => {
    const disk = createDiskModel();
    const life = startLife(disk);
    life.settle();
    life.keep(1);
    life.keep(2);
    const next = startLife(disk, {
      wrap: under => ({
        ...under,
        read: (path, atMost, heard) =>
          path === 'journal'
            ? under.freeBytes(() => heard({ kind: 'failed', fault: 'failed', why: 'EIO: journal' }))
            : under.read(path, atMost, heard),
      }),
    });
    next.settle(50_000);
    expect(next.said.map(one => one.kind)).toEqual(['trouble']);
    next.settle(30_000);
    expect(next.said.map(one => one.kind)).toEqual(['trouble', 'opened', 'trouble', 'healed']);
    expect(openedOf(next)).toMatchObject({ pending: [], nextShot: 6 });
    expect(next.keep(6)).toEqual({ kind: 'kept' });
    expect(next.recall(2)).toMatchObject({ kind: 'recalled' });
  });

  it('a picture just caught is found though the disk fails for a while', () => {
    const disk = createDiskModel();
    const life = startLife(disk);
    life.settle();
    const journal = disk.read('journal');
    life.keep(1);
    disk.write('journal', journal);
    let failures = 0;
    const next = startLife(disk, {
      wrap: under => ({
        ...under,
        read: (path, atMost, heard) =>
          path === 'pictures/0000/000001/frame.png' && failures++ < 4
            ? under.freeBytes(() => heard({ kind: 'failed', fault: 'failed', why: 'EIO' }))
            : under.read(path, atMost, heard),
      }),
    });
    next.settle(30_000);
    expect(openedOf(next).pending).toEqual([{ shot: 1, mark: 'kept' }]);
  });

  it('a frame that can’t be read is named, not overwritten', () => {
    const disk = createDiskModel();
    const life = startLife(disk);
    life.settle();
    const journal = disk.read('journal');
    life.keep(1);
    life.keep(2);
    disk.write('journal', journal);
    disk.write('pictures/0000/000002/frame.png', disk.read('pictures/0000/000001/frame.png'));
    const next = startLife(disk, {
      wrap: under => ({
        ...under,
        read: (path, atMost, heard) =>
          path === 'pictures/0000/000001/frame.png'
            ? under.freeBytes(() => heard({ kind: 'failed', fault: 'failed', why: 'EIO' }))
            : under.read(path, atMost, heard),
      }),
    });
    next.settle(80_000);
    expect(openedOf(next)).toMatchObject({ pending: [], nextShot: 3 });
    expect(next.said[2]).toEqual({
      kind: 'trouble',
      why: 'picture 1 can’t be read: EIO; picture 2 can’t be read: it is another',
    });
  });
});
