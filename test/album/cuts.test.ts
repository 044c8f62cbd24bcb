import { describe, expect, it } from 'vitest';
import { createDiskModel, type DiskModel } from '../../sim/disk.ts';
import { chance } from '../../sim/random.ts';
import { readFrameFile } from '../../src/album/frame-file.ts';
import { frameOf, type Life, lumaOf, openedOf, startLife } from './fixture.ts';

/** What has been promised so far, and what was asked for and may have come about. */
interface Promised {
  kept: Set<number>;
  closing: Set<number>;
  printed: Set<number>;
  askedClosing: Set<number>;
  askedPrinted: Set<number>;
}
const nothingYet = (): Promised => ({
  kept: new Set(),
  closing: new Set(),
  printed: new Set(),
  askedClosing: new Set(),
  askedPrinted: new Set(),
});

/** A small evening: pictures come while earlier ones are printed; each step waits for its answer as the machine does. */
const evening = (life: Life, from: number, pictures: number, promised: Promised) => {
  const { album } = life;
  const close = (shot: number) => {
    promised.askedClosing.add(shot);
    album.mark(shot, 'closing', said => {
      if (said.kind === 'kept') promised.closing.add(shot);
      promised.askedPrinted.add(shot);
      album.paperUsed(85);
      album.mark(shot, 'printed', done => void (done.kind === 'kept' && promised.printed.add(shot)));
    });
  };
  const take = (shot: number) => {
    if (shot === from + pictures) return;
    album.keep(shot, frameOf(shot), { takenAtMs: null, pressToFrameUs: 1 }, said => {
      if (said.kind === 'kept') promised.kept.add(shot);
      album.keepDots(shot, { widthDots: 8, heightDots: 1, strideBytes: 1, data: Uint8Array.of(shot) });
      // Every third is still waiting for paper at the end.
      if (shot % 3 > 0) life.clock.after(15_000, () => close(shot));
      life.clock.after(6_000, () => take(shot + 1));
    });
  };
  take(from);
};

/** What of the promises doesn't hold in the life after the cut. */
const broken = (life: Life, promised: Promised): string[] => {
  const opened = openedOf(life);
  const marks = new Map(opened.pending.map(one => [one.shot, one.mark]));
  const faults: string[] = [];
  for (const shot of promised.kept) {
    if (shot >= opened.nextShot) faults.push(`${shot} could be overwritten`);
    const recalled = life.recall(shot);
    if (recalled?.kind !== 'recalled') faults.push(`${shot} is lost: ${JSON.stringify(recalled)}`);
    else if (Buffer.compare(recalled.frame.data, lumaOf(frameOf(shot))) !== 0) faults.push(`${shot} is another`);
    const mark = marks.get(shot);
    if (promised.printed.has(shot) && mark !== undefined) faults.push(`${shot} would be printed twice`);
    if (!promised.askedPrinted.has(shot) && mark === undefined) faults.push(`${shot} would not be printed`);
    if (promised.closing.has(shot) && mark === 'kept') faults.push(`${shot} would be printed twice`);
    if (!promised.askedClosing.has(shot) && mark === 'closing') faults.push(`${shot} would get only its tail`);
  }
  const afresh = opened.pending.filter(one => !promised.kept.has(one.shot) && one.shot >= opened.nextShot);
  if (afresh.length > 0) faults.push(`${afresh[0].shot} is pending and its number free`);
  return faults;
};

/** Pictures whose folder isn't whole once everything has been tidied. */
const untidy = (disk: DiskModel, promised: Promised): string[] =>
  [...promised.kept].flatMap(shot => {
    const place = `pictures/0000/${String(shot).padStart(6, '0')}`;
    const names = disk.list(place);
    if (names.some(name => name.endsWith('.new'))) return [];
    const frame = readFrameFile(disk.read(`${place}/frame.png`));
    const wants = promised.askedPrinted.has(shot) ? [] : ['about.json'];
    const missing = wants.filter(name => !names.includes(name));
    return frame.kind === 'damaged' || missing.length > 0 ? [`${shot}: ${names}`] : [];
  });

const pictures = 4;
const run = (disk: DiskModel, options: Parameters<typeof startLife>[1], from: number, promised: Promised): Life => {
  const life = startLife(disk, options);
  const stop = life.clock.after(0, () => {});
  stop();
  while (life.alive && !life.said.some(one => one.kind === 'opened') && life.clock.step());
  if (life.alive) evening(life, from, pictures, promised);
  life.settle(9000);
  return life;
};

/** Each step of an evening, cut when it has begun and when it is done, drawn several times. */
const eachCut = (
  luckySeeds: number,
  tryOut: (cutAtStep: { step: number; when: 'begun' | 'done' }, seed: number) => void,
) => {
  const whole = run(createDiskModel(), {}, 1, nothingYet());
  expect(whole.steps).toBeGreaterThan(60);
  let tries = 0;
  for (let step = 1; step <= whole.steps; step++)
    for (const when of ['begun', 'done'] as const)
      for (let seed = 0; seed < luckySeeds; seed++) {
        tryOut({ step, when }, seed);
        tries++;
      }
  return tries;
};

// The promise: a picture that was acknowledged is in the album after any power cut, is pending until it was printed,
// and isn't pending afterwards.
describe('power cuts', () => {
  it('at every step of the disk: nothing acknowledged is lost, printed twice or overwritten', () => {
    const faults: string[] = [];
    const tries = eachCut(4, (cutAtStep, seed) => {
      const disk = createDiskModel();
      const promised = nothingYet();
      const first = run(disk, { cutAtStep }, 1, promised);
      if (!first.alive) disk.powerCut(chance(seed * 1000 + cutAtStep.step));
      const next = startLife(disk, { seed: 2 });
      next.settle();
      const found = broken(next, promised);
      const { nextShot } = openedOf(next);
      if (next.keep(nextShot)?.kind !== 'kept') found.push('the next picture isn’t kept');
      next.settle(6000);
      found.push(...untidy(disk, promised));
      if (next.said.at(-1)?.kind === 'trouble') found.push(`still in trouble: ${JSON.stringify(next.said.at(-1))}`);
      for (const fault of found) faults.push(`${cutAtStep.when} ${cutAtStep.step}, lot ${seed}: ${fault}`);
    });
    expect(tries).toBeGreaterThan(480);
    expect(faults).toEqual([]);
  });

  it('again and again, also while the album opens', () => {
    const faults: string[] = [];
    for (let seed = 1; seed <= 150; seed++) {
      const luck = chance(seed);
      const disk = createDiskModel();
      const promised = nothingYet();
      let from = 1;
      for (let lives = 0; lives < 6; lives++) {
        const cutAtStep = {
          step: luck.whole(1, lives % 2 === 0 ? 70 : 20),
          when: luck.pick(['begun', 'done'] as const),
        };
        const life = run(disk, { seed: seed + lives, cutAtStep }, from, promised);
        if (life.alive) life.end();
        disk.powerCut(luck.fork(`life ${lives}`));
        const look = startLife(disk);
        look.settle(20);
        const opened = look.said.some(one => one.kind === 'opened');
        if (opened) {
          faults.push(...broken(look, promised).map(fault => `seed ${seed}, life ${lives}: ${fault}`));
          from = Math.max(from + pictures, openedOf(look).nextShot);
        }
        look.end();
        disk.powerCut(luck.fork(`look ${lives}`));
      }
    }
    expect(faults).toEqual([]);
  });

  it('with steps that fail, a disk that fills and one that turns read-only in between', () => {
    const faults: string[] = [];
    for (let seed = 1; seed <= 150; seed++) {
      const luck = chance(seed);
      const disk = createDiskModel();
      const promised = nothingYet();
      let from = 1;
      for (let lives = 0; lives < 4; lives++) {
        const cutAtStep = { step: luck.whole(20, 150), when: luck.pick(['begun', 'done'] as const) };
        const life = startLife(disk, {
          seed: seed + lives,
          cutAtStep,
          wrap: under => ({
            ...under,
            put(path, bytes, heard) {
              if (luck.hit(0.04)) life.port.control.fail(luck.whole(1, 3));
              under.put(path, bytes, heard);
            },
            append(path, bytes, heard) {
              if (luck.hit(0.04)) life.port.control.fail(1);
              under.append(path, bytes, heard);
            },
          }),
        });
        while (life.alive && !life.said.some(one => one.kind === 'opened') && life.clock.step(60e6));
        if (life.alive) evening(life, from, pictures, promised);
        life.clock.after(luck.whole(0, 60_000), () => disk.readOnly(luck.hit(0.3)));
        life.clock.after(luck.whole(0, 60_000), () => disk.capacity(luck.hit(0.3) ? 60_000 : 64_000_000));
        life.settle(luck.whole(100, 9000));
        life.end();
        disk.powerCut(luck.fork(`life ${lives}`));
        disk.readOnly(false);
        disk.capacity(64_000_000);
        const look = startLife(disk);
        look.settle();
        faults.push(...broken(look, promised).map(fault => `seed ${seed}, life ${lives}: ${fault}`));
        // Healed: within 30 s all is well, and the next picture is kept.
        look.settle(30_000);
        if (look.said.at(-1)?.kind === 'trouble') faults.push(`seed ${seed}, life ${lives}: still in trouble`);
        const { nextShot } = openedOf(look);
        if (look.keep(nextShot)?.kind !== 'kept') faults.push(`seed ${seed}, life ${lives}: the next isn’t kept`);
        else promised.kept.add(nextShot);
        from = nextShot + 1;
        look.end();
        disk.powerCut(luck.fork(`look ${lives}`));
      }
    }
    expect(faults).toEqual([]);
  });

  it.each(['files', 'folders'] as const)('a disk that forgets to sync %s is found out', about => {
    let faults = 0;
    eachCut(2, (cutAtStep, seed) => {
      const disk = createDiskModel();
      const promised = nothingYet();
      const first = startLife(disk, { cutAtStep });
      first.port.control.lie(about);
      while (first.alive && !first.said.some(one => one.kind === 'opened') && first.clock.step());
      if (first.alive) evening(first, 1, pictures, promised);
      first.settle(9000);
      if (!first.alive) disk.powerCut(chance(seed * 1000 + cutAtStep.step));
      const next = startLife(disk, { seed: 2 });
      next.settle();
      faults += broken(next, promised).length;
    });
    expect(faults).toBeGreaterThan(20);
  });
});

describe('a damaged journal', () => {
  /** An album with pictures in every state, its journal long enough to matter. */
  const prepared = () => {
    const disk = createDiskModel();
    const life = startLife(disk);
    life.settle();
    for (const shot of [1, 2, 3, 4]) life.keep(shot);
    life.mark(1, 'closing');
    life.mark(1, 'printed');
    life.mark(2, 'closing');
    life.settle(9000);
    return { disk, journal: disk.read('journal') };
  };

  it('a tail that is cut at any byte: every picture is pending or known as printed, none is overwritten', () => {
    const { journal } = prepared();
    for (let length = 0; length <= journal.length; length++) {
      const { disk } = prepared();
      disk.write('journal', journal.slice(0, length));
      const life = startLife(disk);
      life.settle(9000);
      const opened = openedOf(life);
      expect(opened.nextShot).toBeGreaterThanOrEqual(5);
      if (length > journal.indexOf(10))
        for (const shot of [3, 4]) expect(opened.pending).toContainEqual({ shot, mark: 'kept' });
      for (const shot of [1, 2, 3, 4]) expect(life.recall(shot)).toMatchObject({ kind: 'recalled' });
      const endsWithLine = length > 0 && journal[length - 1] === 10;
      expect(life.said.map(one => one.kind)).toEqual(endsWithLine ? ['opened'] : ['opened', 'trouble', 'healed']);
      const next = startLife(disk);
      next.settle();
      expect(next.said.map(one => one.kind)).toEqual(['opened']);
      expect(openedOf(next).pending).toEqual(opened.pending);
    }
  });

  it('any byte changed to anything: what stands around it is still read', () => {
    const { disk, journal } = prepared();
    const luck = chance(9);
    for (let at = 0; at < journal.length; at++) {
      const damaged = journal.slice();
      damaged[at] ^= 1 << luck.whole(0, 7);
      disk.write('journal', damaged);
      const life = startLife(disk);
      life.settle();
      const { nextShot, pending } = openedOf(life);
      expect(nextShot).toBeGreaterThanOrEqual(5);
      expect(life.said[1]).toMatchObject({ kind: 'trouble' });
      for (const shot of [3, 4]) expect(pending).toContainEqual({ shot, mark: 'kept' });
      life.end();
    }
  });

  it('zeros where a block was never written, and a journal of rubbish', () => {
    const { disk, journal } = prepared();
    disk.write('journal', Buffer.concat([journal, new Uint8Array(4096)]));
    const life = startLife(disk);
    life.settle();
    expect(openedOf(life).pending.map(one => one.shot)).toEqual([2, 3, 4]);
    for (const rubbish of ['', '\n\n', 'x'.repeat(5000), '{}\n'.repeat(50), '\0'.repeat(512)]) {
      disk.write('journal', Buffer.from(rubbish));
      const other = startLife(disk);
      other.settle(9000);
      expect(openedOf(other).nextShot).toBeGreaterThanOrEqual(5);
      expect(other.said.map(one => one.kind)).toEqual(['opened', 'trouble', 'healed']);
    }
  });

  it('a journal that is gone: pictures are there and are not overwritten', () => {
    const { disk } = prepared();
    disk.remove('journal');
    const life = startLife(disk);
    life.settle();
    const { nextShot, pending } = openedOf(life);
    expect(pending).toEqual([]);
    expect(nextShot).toBeGreaterThanOrEqual(5);
    expect(life.said[1]).toMatchObject({ kind: 'trouble', why: expect.stringContaining('no journal to trust') });
    expect(life.keep(nextShot)).toEqual({ kind: 'kept' });
    expect(life.recall(4)).toMatchObject({ frame: { data: lumaOf(frameOf(4)) } });
  });
});
