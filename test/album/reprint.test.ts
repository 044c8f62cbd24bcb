import { describe, expect, it } from 'vitest';
import { createDiskModel } from '../../sim/disk.ts';
import { chance } from '../../sim/random.ts';
import { openedOf, startLife } from './fixture.ts';

describe('asking for a picture again', () => {
  it('by a file named by its number, at the start or while the camera runs', () => {
    const disk = createDiskModel();
    const life = startLife(disk);
    life.settle();
    for (const shot of [1, 2]) {
      life.keep(shot);
      life.mark(shot, 'printed');
    }
    disk.write('wanted/000002', new Uint8Array(0));
    disk.write('wanted/000077', new Uint8Array(0));
    disk.write('wanted/readme', new Uint8Array(0));
    const next = startLife(disk);
    next.settle();
    expect(next.said).toEqual([
      { kind: 'opened', pending: [], nextShot: 3, paperUsedMm: 0 },
      { kind: 'asked', shot: 2 },
    ]);
    expect(disk.list('wanted')).toEqual(['readme']);
    // Not printed in this life: it stays pending.
    const third = startLife(disk);
    third.settle();
    expect(openedOf(third).pending).toEqual([{ shot: 2, mark: 'kept' }]);

    let notice = () => {};
    const watched = startLife(disk, {
      wrap: under => ({
        ...under,
        watch: (path, heard) => {
          expect(path).toBe('wanted');
          notice = heard;
          return () => {};
        },
      }),
    });
    watched.settle();
    watched.mark(2, 'printed');
    disk.write('wanted/000001', new Uint8Array(0));
    notice();
    watched.settle();
    expect(watched.said.slice(1)).toEqual([{ kind: 'asked', shot: 1 }]);
  });

  it('a request outlives a power cut at any step', () => {
    for (let alive = false, step = 1; !alive; step++)
      for (const when of ['begun', 'done'] as const) {
        const disk = createDiskModel();
        const life = startLife(disk);
        life.settle();
        life.keep(1);
        life.mark(1, 'printed');
        disk.write('wanted/000001', new Uint8Array(0));
        disk.sync('wanted/000001');
        disk.syncFolder('wanted');
        life.end();
        const cut = startLife(disk, { cutAtStep: { step, when } });
        cut.settle(3000);
        alive = cut.alive;
        if (!alive) disk.powerCut(chance(step));
        const next = startLife(disk);
        next.settle();
        const waits = openedOf(next).pending.some(one => one.shot === 1);
        const asked = next.said.some(one => one.kind === 'asked');
        expect([waits, asked].filter(Boolean), `${when} ${step}`).toHaveLength(1);
      }
  });

  it('of a picture that waits anyway changes nothing', () => {
    const disk = createDiskModel();
    const life = startLife(disk);
    life.settle();
    life.keep(1);
    life.mark(1, 'closing');
    disk.write('wanted/000001', new Uint8Array(0));
    const next = startLife(disk);
    next.settle();
    expect(next.said).toEqual([
      { kind: 'opened', pending: [{ shot: 1, mark: 'closing' }], nextShot: 2, paperUsedMm: 0 },
    ]);
    expect(disk.list('wanted')).toEqual([]);
  });
});
