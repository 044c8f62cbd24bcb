import { describe, expect, it } from 'vitest';
import type { Pending } from '../../src/parts/album.ts';
import { createDesk, type DeskOptions, frameAt, someDots } from './desk.ts';
import { job, shoot } from './hands.ts';

/** A camera that finds work left over from an earlier life. */
const wakeWith = (pending: readonly Pending[], options: DeskOptions = {}) => {
  const desk = createDesk({ ...options, byHand: ['start', ...(options.byHand ?? [])] });
  desk.say.album({ kind: 'opened', pending, nextShot: 10, paperUsedMm: 1234 });
  desk.say.condition({});
  desk.say.webcam({ kind: 'ready' });
  return desk;
};

describe('printing once', () => {
  it('the closing mark is durable before the tail begins, the printed mark comes after it', () => {
    const desk = createDesk({ byHand: ['mark', 'job'] });
    shoot(desk);
    job(desk, 'body').answer({ kind: 'done', paperLines: 600 });
    desk.run(1000);
    expect(desk.pending.job).toEqual([]);
    expect(desk.pending.mark.map(({ mark }) => mark)).toEqual(['closing']);
    desk.pending.mark[0].answer({ kind: 'kept' });
    expect(desk.lines('printed')).toEqual([]);
    job(desk, 'tail').answer({ kind: 'done', paperLines: 120 });
    expect(desk.lines('printed')).toHaveLength(1);
    expect(desk.pending.mark.map(({ mark }) => mark)).toEqual(['closing', 'printed']);
    expect(desk.seen.paperMm).toBe(90);
  });

  it('a body that was cut is printed whole again, once paper is back', () => {
    const desk = createDesk({ byHand: ['job'] });
    shoot(desk);
    const first = job(desk, 'body');
    first.answer({ kind: 'progress', lines: 1, ofLines: 600 });
    desk.say.condition({ paperOut: true });
    first.answer({ kind: 'stopped', paperLines: 300 });
    expect(desk.lines('print-cut')).toEqual([{ shot: 1, why: 'paper-out' }]);
    expect(desk.lines('waiting')).toEqual([{ why: 'paper-out' }]);
    desk.run(30_000);
    expect(desk.pending.job).toEqual([]);
    desk.say.condition({ lidOpen: true });
    desk.say.condition({ paperOut: false });
    desk.say.condition({ lidOpen: false });
    desk.run(600);
    expect(desk.lines('waiting').map(({ why }) => why)).toEqual(['paper-out', 'lid-open paper-out', 'lid-open']);
    expect(desk.lines('resumed')[0].waitedMs).toBeGreaterThan(30_000);
    job(desk, 'body').answer({ kind: 'done', paperLines: 600 });
    desk.run(100);
    job(desk, 'tail').answer({ kind: 'done', paperLines: 120 });
    desk.run(5000);
    expect(desk.lines('printed')).toHaveLength(1);
    expect(desk.pending.job).toEqual([]);
  });

  it('where only the tail was cut, only the tail follows', () => {
    const desk = createDesk({ byHand: ['job'] });
    shoot(desk);
    job(desk, 'body').answer({ kind: 'done', paperLines: 600 });
    desk.run(100);
    const tail = job(desk, 'tail');
    desk.say.condition({ lost: true });
    tail.answer({ kind: 'stopped', paperLines: 10 });
    desk.run(2000);
    desk.say.condition({ lost: false });
    desk.run(600);
    expect(desk.pending.job.map(({ kind }) => kind)).toEqual(['tail']);
    job(desk, 'tail').answer({ kind: 'done', paperLines: 120 });
    expect(desk.lines('printed')).toHaveLength(1);
    expect(desk.lines('printer-lost')).toHaveLength(1);
    expect(desk.lines('printer-found')).toHaveLength(2);
  });

  it('a mark that can’t be written is tried again before the tail', () => {
    const desk = createDesk({ byHand: ['mark'] });
    shoot(desk);
    desk.run(2000);
    desk.pending.mark[0].answer({ kind: 'failed', why: 'read only' });
    expect(desk.seen.lamp.at(-1)).toBe('pausing');
    desk.run(2100);
    desk.pending.mark[1].answer({ kind: 'failed', why: 'read only' });
    expect(desk.seen.tails).toEqual([]);
    desk.say.album({ kind: 'healed' });
    desk.pending.mark[2].answer({ kind: 'kept' });
    desk.run(1000);
    expect(desk.seen.tails).toEqual([1]);
    expect(desk.seen.bodies).toEqual([1]);
  });

  it('marks that never can be written stop the printing for a minute, then nothing is printed twice in this life', () => {
    const desk = createDesk({ throws: ['mark'] });
    shoot(desk);
    desk.run(30_000);
    expect(desk.seen.tails).toEqual([]);
    desk.press();
    desk.run(35_000);
    expect(desk.seen.tails).toEqual([1]);
    desk.run(10_000);
    expect(desk.seen.bodies).toEqual([1, 2]);
    expect(desk.seen.tails).toEqual([1, 2]);
    expect(desk.lines('part-fault')[0]).toEqual({ part: 'album', why: 'closing 1: no mark' });
    expect(desk.lines('part-fault').at(-1)).toEqual({ part: 'album', why: 'printed 2: no mark' });
  });

  it('what is only in memory doesn’t wait for its marks', () => {
    const desk = createDesk({ throws: ['keep', 'mark'] });
    shoot(desk);
    desk.run(5000);
    expect(desk.seen.tails).toEqual([1]);
    expect(desk.machine.states().output).toBe('idle');
  });

  it('what the album kept has a number of its own, though the journal was read only after the press', () => {
    const desk = createDesk({ byHand: ['start'] });
    desk.say.album({ kind: 'trouble', why: 'not mounted' });
    desk.say.condition({});
    desk.say.webcam({ kind: 'ready' });
    desk.press(20);
    desk.say.album({ kind: 'opened', pending: [], nextShot: 1, paperUsedMm: 0 });
    desk.run(5000);
    expect(desk.seen.kept).toEqual([1]);
    expect(desk.seen.marks).toEqual([
      [1, 'closing'],
      [1, 'printed'],
    ]);
  });

  it('a picture that is being taken when the journal comes gets a number that no older one has', () => {
    const desk = createDesk({ byHand: ['start', 'frames'] });
    desk.say.condition({});
    desk.say.webcam({ kind: 'ready' });
    desk.say.album({ kind: 'trouble', why: 'input/output error' });
    desk.press();
    desk.say.album({ kind: 'opened', pending: [{ shot: 1, mark: 'kept' }], nextShot: 2, paperUsedMm: 0 });
    desk.run(100);
    desk.say.frame(frameAt(desk.clock.nowUs()));
    desk.run(10_000);
    expect(desk.lines('kept').map(({ shot }) => shot)).toEqual([2]);
    expect(desk.lines('printed').map(({ shot }) => shot)).toEqual([1, 2]);
    expect(desk.lines('coil').map(({ stroke }) => stroke)).toEqual(['first', 'second']);
  });

  it('what got its number without the journal gets no marks: they could meet an older picture', () => {
    const failing = { keep: true };
    const desk = createDesk({ byHand: ['start'], failing });
    desk.say.album({ kind: 'trouble', why: 'not mounted' });
    desk.say.condition({});
    desk.say.webcam({ kind: 'ready' });
    shoot(desk);
    failing.keep = false;
    desk.say.album({ kind: 'opened', pending: [], nextShot: 8, paperUsedMm: 0 });
    desk.run(5000);
    shoot(desk);
    desk.run(5000);
    expect(desk.seen.tails).toEqual([1, 8]);
    expect(desk.seen.marks).toEqual([
      [8, 'closing'],
      [8, 'printed'],
    ]);
  });

  it('a body that is done before the album has answered waits with its tail', () => {
    const desk = createDesk({ byHand: ['keep', 'mark'] });
    shoot(desk);
    desk.run(2000);
    expect(desk.machine.states().output).toBe('sealing.unsure');
    desk.pending.keep[0].answer({ kind: 'kept' });
    expect(desk.machine.states().output).toBe('sealing.marking');
    desk.pending.mark[0].answer({ kind: 'kept' });
    expect(desk.machine.states().output).toBe('presenting');
  });
});

describe('an earlier life', () => {
  it('left pictures: printed whole, oldest first, before anything new', () => {
    const desk = wakeWith([
      { shot: 4, mark: 'kept' },
      { shot: 7, mark: 'kept' },
    ]);
    desk.run(100);
    desk.press();
    desk.run(15_000);
    expect(desk.seen.bodies).toEqual([4, 7, 10]);
    expect(desk.seen.tails).toEqual([4, 7, 10]);
    expect(desk.lines('album-opened')).toEqual([{ pending: 2, nextShot: 10 }]);
    expect(desk.lines('print-begun').map(({ pressToDotUs }) => pressToDotUs > 0)).toEqual([false, false, true]);
    expect(desk.seen.rollUsedMm).toBe(1234 + 3 * 90);
  });

  it('left a closed body: only its tail is printed, and it is marked', () => {
    const desk = wakeWith([{ shot: 4, mark: 'closing' }]);
    desk.run(5000);
    expect(desk.seen.bodies).toEqual([]);
    expect(desk.seen.tails).toEqual([4]);
    expect(desk.seen.marks).toEqual([[4, 'printed']]);
  });

  it('left a tail while there is no paper: it waits for it', () => {
    const desk = wakeWith([{ shot: 4, mark: 'closing' }], { byHand: ['job'] });
    expect(desk.lines('waiting')).toEqual([{ why: 'lost' }]);
    desk.say.condition({ paperOut: true });
    desk.run(5000);
    expect(desk.machine.states().output).toBe('waiting.troubled');
    desk.say.condition({ paperOut: false });
    desk.run(600);
    job(desk, 'tail').answer({ kind: 'done', paperLines: 120 });
    expect(desk.lines('printed')).toHaveLength(1);
  });

  it('a journal that is read late doesn’t mix up numbers', () => {
    const desk = createDesk({ byHand: ['start', 'job'] });
    desk.say.album({ kind: 'trouble', why: 'not mounted' });
    desk.say.condition({});
    desk.say.webcam({ kind: 'ready' });
    shoot(desk);
    desk.say.album({
      kind: 'opened',
      pending: [
        { shot: 1, mark: 'kept' },
        { shot: 2, mark: 'kept' },
      ],
      nextShot: 3,
      paperUsedMm: 0,
    });
    desk.say.album({ kind: 'healed' });
    expect(desk.lines('album-trouble')).toEqual([{ why: 'not mounted' }]);
    expect(desk.lines('album-healed')).toHaveLength(1);
    job(desk, 'body').answer({ kind: 'done', paperLines: 600 });
    desk.run(100);
    job(desk, 'tail').answer({ kind: 'done', paperLines: 100 });
    desk.run(500);
    // Number 1 in memory was printed; the album's number 1 waits for the next start, its 2 is printed now.
    expect(desk.lines('print-begun')).toEqual([]);
    job(desk, 'body').answer({ kind: 'progress', lines: 1, ofLines: 600 });
    expect(desk.lines('print-begun')).toEqual([{ shot: 2, pressToDotUs: 0 }]);
    shoot(desk);
    expect(desk.lines('press').map(({ shot }) => shot)).toEqual([1, 3]);
  });

  it('somebody asks for a kept picture at the keyboard: it is printed like any other, once', () => {
    const desk = createDesk();
    desk.say.album({ kind: 'asked', shot: 3 });
    desk.say.album({ kind: 'asked', shot: 3 });
    desk.run(8000);
    expect(desk.seen.bodies).toEqual([3]);
    expect(desk.seen.marks).toEqual([
      [3, 'closing'],
      [3, 'printed'],
    ]);
    desk.say.album({ kind: 'asked', shot: 3 });
    desk.run(8000);
    expect(desk.seen.bodies).toEqual([3, 3]);
  });
});

describe('a picture that can’t be made ready', () => {
  it('lets the others pass and is tried again', () => {
    const desk = wakeWith(
      [
        { shot: 4, mark: 'kept' },
        { shot: 5, mark: 'kept' },
      ],
      { byHand: ['recall'] },
    );
    desk.pending.recall[0].answer({ kind: 'failed', why: 'read error' });
    desk.pending.recall[1].answer({
      kind: 'recalled',
      frame: frameAt(0),
      about: { takenAtMs: null, pressToFrameUs: 0 },
    });
    desk.run(4000);
    expect(desk.seen.bodies).toEqual([5]);
    expect(desk.machine.states().output).toBe('biding');
    desk.run(6000);
    desk.pending.recall[2].answer({
      kind: 'recalled',
      frame: frameAt(0),
      about: { takenAtMs: null, pressToFrameUs: 0 },
    });
    desk.run(4000);
    expect(desk.seen.bodies).toEqual([5, 4]);
  });

  it('is tried ever more slowly, then only when the album has healed', () => {
    const desk = wakeWith([{ shot: 4, mark: 'kept' }], { throws: ['recall'] });
    desk.run(1_000_000);
    const at = desk.log.filter(({ event }) => event === 'part-fault').map(({ atUs }) => Math.round(atUs / 1e6));
    expect(at).toEqual([0, 5, 15, 35, 75, 155, 235, 315]);
    expect(desk.machine.states().output).toBe('idle');
    desk.say.album({ kind: 'healed' });
    expect(desk.lines('part-fault')).toHaveLength(9);
    expect(desk.lines('part-fault')[8]).toEqual({ part: 'album', why: 'picture 4: no recall' });
  });

  it('a darkroom that heals develops what it failed before', () => {
    const desk = createDesk({ byHand: ['develop'] });
    shoot(desk);
    desk.pending.develop[0].answer({ kind: 'failed', why: 'out of memory' });
    expect(desk.lines('part-fault')).toEqual([{ part: 'darkroom', why: 'picture 1: out of memory' }]);
    desk.run(5500);
    desk.pending.develop[1].answer({ kind: 'developed', dots: someDots });
    desk.run(3000);
    expect(desk.seen.bodies).toEqual([1]);
  });

  it('that is only in memory counts against the room there, and is given up in the end', () => {
    const desk = createDesk({
      throws: ['keep', 'develop'],
      config(config) {
        config.queue.longest = 1;
      },
    });
    for (let i = 0; i < 3; i++) {
      shoot(desk);
      desk.run(100);
    }
    expect(desk.lines('refused')).toEqual([{ why: 'queue-full' }]);
    desk.run(1_000_000);
    expect(desk.machine.states().output).toBe('idle');
    expect(desk.lines('part-fault')).toHaveLength(16);
    shoot(desk);
    expect(desk.lines('press')).toHaveLength(3);
  });
});
