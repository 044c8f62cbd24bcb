import { describe, expect, it } from 'vitest';
import { createDiskModel } from '../../sim/disk.ts';
import { chance } from '../../sim/random.ts';
import { frameOf, lumaOf, openedOf, startLife } from './fixture.ts';

const text = (bytes: Uint8Array) => Buffer.from(bytes).toString('latin1');

describe('an album', () => {
  it('opens empty, keeps pictures, and has them in the next life', () => {
    const disk = createDiskModel();
    const first = startLife(disk);
    first.settle();
    expect(first.said).toEqual([{ kind: 'opened', pending: [], nextShot: 1, paperUsedMm: 0 }]);
    for (const shot of [1, 2, 3]) expect(first.keep(shot)).toEqual({ kind: 'kept' });
    expect(first.mark(1, 'closing')).toEqual({ kind: 'kept' });
    expect(first.mark(1, 'printed')).toEqual({ kind: 'kept' });
    expect(first.mark(2, 'closing')).toEqual({ kind: 'kept' });
    first.album.paperUsed(85.25);
    first.album.paperUsed(85);
    first.settle(10_000);
    expect(first.said).toHaveLength(1);

    const second = startLife(disk);
    second.settle();
    expect(openedOf(second)).toEqual({
      kind: 'opened',
      pending: [
        { shot: 2, mark: 'closing' },
        { shot: 3, mark: 'kept' },
      ],
      nextShot: 4,
      paperUsedMm: 170.25,
    });
    const recalled = second.recall(3);
    if (recalled?.kind !== 'recalled') throw new Error(JSON.stringify(recalled));
    expect(recalled.frame).toMatchObject({ format: 'GREY', widthPx: 16, heightPx: 12, range: 'limited', sequence: 30 });
    expect(recalled.frame.data).toEqual(lumaOf(frameOf(3)));
    expect(recalled.about).toEqual({ takenAtMs: null, pressToFrameUs: 40_000 });
  });

  it('keeping is one step on the disk once places are made, and in order', () => {
    const life = startLife(createDiskModel());
    life.settle();
    const before = life.steps;
    const heard: number[] = [];
    for (const shot of [1, 2, 3])
      life.album.keep(shot, frameOf(shot), { takenAtMs: null, pressToFrameUs: 1 }, said => {
        expect(said).toEqual({ kind: 'kept' });
        heard.push(shot);
        expect(life.steps - before).toBe(shot);
      });
    life.settle();
    expect(heard).toEqual([1, 2, 3]);
  });

  it('lays out a folder a picture', () => {
    const disk = createDiskModel();
    const life = startLife(disk);
    life.settle();
    life.keep(1, frameOf(1), Date.UTC(2026, 5, 20, 18, 30));
    const dots = { widthDots: 12, heightDots: 2, strideBytes: 2, data: Uint8Array.of(0xff, 0xf0, 0x80, 0x10) };
    life.album.keepDots(1, dots);
    life.settle();
    expect(disk.list('pictures/0000/000001').sort()).toEqual(['about.json', 'dots.png', 'frame.png']);
    expect(JSON.parse(text(disk.read('pictures/0000/000001/about.json')))).toMatchObject({
      shot: 1,
      takenAt: '2026-06-20T18:30:00.000Z',
      format: 'YUYV',
      pressToFrameUs: 40_000,
    });
  });

  it('an MJPEG frame comes back byte for byte', () => {
    const disk = createDiskModel();
    const data = Uint8Array.of(0xff, 0xd8, 0xff, 0xdb, 0, 3, 7, 0xff, 0xd9);
    const life = startLife(disk);
    life.settle();
    expect(life.keep(1, frameOf(1, { format: 'MJPEG', strideBytes: 0, data }))).toEqual({ kind: 'kept' });
    const recalled = life.recall(1);
    expect(recalled).toMatchObject({ kind: 'recalled', frame: { format: 'MJPEG', data: Buffer.from(data) } });
    expect(disk.list('pictures/0000/000001').sort()).toEqual(['about.json', 'frame.jpg']);
    // From now on places are made for the format that comes.
    expect(disk.list('pictures/0000/000002')).toContain('frame.jpg');
    expect(life.keep(2, frameOf(2, { format: 'MJPEG', data: Uint8Array.of(1, 2, 3) }))).toEqual({
      kind: 'failed',
      why: 'the frame doesn’t begin as a JPEG does',
    });
  });

  it('refuses a number that is taken and a frame that is too short, later and without harm', () => {
    const life = startLife(createDiskModel());
    life.settle();
    life.keep(1);
    expect(life.keep(1, frameOf(7))).toEqual({ kind: 'failed', why: 'the number 1 was used already' });
    expect(life.recall(1)).toMatchObject({ frame: { data: lumaOf(frameOf(1)) } });
    expect(life.keep(2, frameOf(2, { data: new Uint8Array(10) }))).toMatchObject({ kind: 'failed' });
    expect(life.keep(2)).toEqual({ kind: 'kept' });
  });

  it('numbers that are passed over leave nothing behind', () => {
    const disk = createDiskModel();
    const life = startLife(disk);
    life.settle();
    life.keep(3);
    life.settle();
    expect(disk.list('pictures/0000').sort()).toEqual(['000003', '000004', '000005', '000006']);
    const next = startLife(disk);
    next.settle();
    expect(openedOf(next)).toMatchObject({ nextShot: 4, pending: [{ shot: 3 }] });
  });

  it('a picture that isn’t there can’t be recalled; a recall that was undone isn’t heard', () => {
    const life = startLife(createDiskModel());
    life.settle();
    expect(life.recall(9)).toEqual({ kind: 'failed', why: 'picture 9: it isn’t in the album' });
    life.keep(1);
    life.album.recall(1, () => expect.unreachable())();
    life.settle();
  });

  it('a new roll starts the account of paper over', () => {
    const disk = createDiskModel();
    const life = startLife(disk);
    life.album.paperUsed(5);
    life.settle();
    life.album.paperUsed(100);
    life.album.paperUsed(0, true);
    life.album.paperUsed(42);
    life.settle(3000);
    const next = startLife(disk);
    next.settle();
    expect(openedOf(next).paperUsedMm).toBe(42);
  });

  it('what moved just before the end is written down by closing', () => {
    const disk = createDiskModel();
    const life = startLife(disk);
    life.settle();
    const life2 = startLife(disk);
    const undo = life2.album.open(() => {});
    life2.settle();
    life2.album.paperUsed(7);
    undo();
    life2.settle(500);
    const next = startLife(disk);
    next.settle();
    expect(openedOf(next).paperUsedMm).toBe(7);
  });

  it('clocks that jump neither reorder nor overwrite', () => {
    const disk = createDiskModel();
    const times = [Date.UTC(2026, 5, 20), 5_000, Date.UTC(2031, 0, 1), null, 0];
    let shot = 0;
    for (const takenAtMs of times) {
      const life = startLife(disk);
      life.settle();
      expect(openedOf(life).nextShot).toBe(shot + 1);
      expect(life.keep(++shot, frameOf(shot), takenAtMs)).toEqual({ kind: 'kept' });
    }
    const life = startLife(disk);
    life.settle();
    expect(openedOf(life).pending.map(one => one.shot)).toEqual([1, 2, 3, 4, 5]);
    times.forEach((takenAtMs, i) => {
      expect(life.recall(i + 1)).toMatchObject({ about: { takenAtMs }, frame: { data: lumaOf(frameOf(i + 1)) } });
    });
  });

  it('a journal that has grown is put in short, and says the same', () => {
    const disk = createDiskModel();
    const life = startLife(disk);
    life.settle();
    let longest = 0;
    for (let shot = 1; shot <= 700; shot++) {
      life.album.mark(shot, 'closing', () => {});
      if (shot % 3 > 0) life.album.mark(shot, 'printed', () => {});
      if (shot % 100 === 0) life.album.paperUsed(1);
      life.settle(3000);
      longest = Math.max(longest, disk.read('journal').length);
    }
    expect(longest).toBeLessThan(40_000);
    const next = startLife(disk);
    next.settle();
    const { pending, nextShot } = openedOf(next);
    expect(nextShot).toBe(701);
    expect(pending).toHaveLength(233);
    expect(pending.every(({ shot, mark }) => shot % 3 === 0 && mark === 'closing')).toBe(true);
  });

  it('crossing to the next thousand makes a new shelf', () => {
    const disk = createDiskModel();
    const life = startLife(disk);
    life.settle();
    for (const shot of [998, 999, 1000, 1001]) expect(life.keep(shot)).toEqual({ kind: 'kept' });
    expect(disk.list('pictures/0001').sort().slice(0, 2)).toEqual(['001000', '001001']);
    const next = startLife(disk);
    next.settle();
    expect(openedOf(next).pending.map(one => one.shot)).toEqual([998, 999, 1000, 1001]);
  });

  it('finds what the journal doesn’t know on two shelves', () => {
    const disk = createDiskModel();
    const life = startLife(disk);
    life.settle();
    life.keep(997);
    const journal = disk.read('journal');
    for (const shot of [998, 999, 1000, 1001]) life.keep(shot);
    disk.write('journal', journal);
    const next = startLife(disk);
    next.settle();
    expect(openedOf(next)).toMatchObject({
      nextShot: 1002,
      pending: [997, 998, 999, 1000, 1001].map(shot => ({ shot })),
    });
  });
});

describe('oldest pictures make room', () => {
  const fill = (count: number) => {
    const disk = createDiskModel(200_000_000);
    const life = startLife(disk, { album: { whenFull: 'oldest-goes', leastFreeMb: 1 } });
    life.settle();
    for (let shot = 1; shot <= count; shot++) {
      life.keep(shot);
      if (shot !== 2) life.mark(shot, 'printed');
    }
    life.settle();
    return { disk, life };
  };

  it('only when configured, the oldest first, never one that waits for paper', () => {
    const { disk, life } = fill(5);
    const used = 200_000_000 - disk.freeBytes();
    const aPicture = disk.read('pictures/0000/000001/frame.png').length + 100;
    disk.capacity(used + 17_000_000 - 2 * aPicture);
    life.keep(6);
    life.settle();
    const left = disk.list('pictures/0000').sort();
    expect(left).not.toContain('000001');
    expect(left).toContain('000002');
    expect(left).not.toContain('000003');
    expect(left).toContain('000006');
    expect(life.said.map(one => one.kind)).toEqual(['opened']);
    expect(life.recall(2)).toMatchObject({ kind: 'recalled' });
  });

  it('makes room on the way to a picture that would not fit, and gives up when nothing may go', () => {
    const { disk, life } = fill(3);
    const used = 200_000_000 - disk.freeBytes();
    disk.capacity(used + 1_000_000);
    life.settle(10);
    expect(life.keep(4)).toEqual({ kind: 'kept' });
    life.settle();
    expect(disk.list('pictures/0000').filter(name => Number(name) < 4)).toEqual(['000002']);
    expect(life.said.map(one => one.kind)).toEqual(['opened']);
    disk.capacity(used + 900_000);
    life.album.paperUsed(1);
    life.settle(3000);
    expect(life.keep(5)).toEqual({ kind: 'failed', why: expect.stringContaining('MB are free') });
    expect(disk.list('pictures/0000').filter(name => Number(name) < 5)).toEqual(['000002', '000004']);
  });

  it('empty shelves go too', () => {
    const disk = createDiskModel(200_000_000);
    const life = startLife(disk, { album: { whenFull: 'oldest-goes' } });
    life.settle();
    for (const shot of [1, 1001, 2001]) {
      life.keep(shot);
      life.mark(shot, 'printed');
    }
    disk.capacity(200_000_000 - disk.freeBytes() + 16_500_000);
    life.keep(2002);
    life.settle();
    life.keep(2003);
    life.settle();
    expect(disk.list('pictures').sort()).toEqual(['0002']);
  });

  it('a removal that was cut leaves whole pictures only, and is finished in the next life', () => {
    const settings = { album: { whenFull: 'oldest-goes' as const } };
    let cuts = 0;
    for (let alive = false, step = 1; !alive; step++)
      for (let lot = 0; lot < 6; lot++) {
        const { disk, life } = fill(3);
        disk.capacity(200_000_000 - disk.freeBytes() + 16_999_000);
        life.end();
        const cut = startLife(disk, { ...settings, cutAtStep: { step, when: lot % 2 === 0 ? 'begun' : 'done' } });
        cut.settle(3000);
        alive = cut.alive;
        if (!alive) disk.powerCut(chance(100 * step + lot));
        cuts++;
        const last = startLife(disk, { album: { whenFull: 'keep' } });
        last.settle();
        for (const name of disk.list('pictures/0000').filter(one => Number(one) < 4))
          expect(disk.list(`pictures/0000/${name}`), `step ${step}, lot ${lot}`).toContain('frame.png');
      }
    expect(cuts).toBeGreaterThan(100);
  });
});
