import { describe, expect, it } from 'vitest';
import type { ShutterSaid } from '../../src/parts/shutter.ts';
import { createDesk, frameAt } from './desk.ts';

const ms = (us: number) => us / 1000;

describe('a press', () => {
  it('is answered by one stroke, kept, answered by a second, printed: in this order', () => {
    const desk = createDesk();
    desk.press();
    desk.run(4000);
    const told = desk.log.map(({ event }) => event).filter(event => !['gesture', 'supply'].includes(event));
    expect(told.slice(told.indexOf('press'))).toEqual([
      'press',
      'coil',
      'frame',
      'kept',
      'coil',
      'developed',
      'print-begun',
      'printed',
    ]);
    expect(desk.lines('coil').map(({ stroke }) => stroke)).toEqual(['first', 'second']);
    for (const { onUs, offUs } of desk.seen.coil) expect(ms((offUs ?? 0) - onUs)).toBe(desk.config.shutter.pulseMs);
    const [first, second] = desk.seen.coil;
    const kept = desk.log.find(({ event }) => event === 'kept');
    expect(second.onUs).toBeGreaterThanOrEqual(kept?.atUs ?? Number.POSITIVE_INFINITY);
    expect(first.onUs).toBe(desk.log.find(({ event }) => event === 'press')?.atUs);
  });

  it('takes the first frame that began after it and meets no blades', () => {
    const desk = createDesk({ byHand: ['frames'] });
    desk.press();
    const [{ onUs, offUs }] = desk.seen.coil;
    const clearUs = (offUs ?? 0) + desk.config.shutter.bladesClearMs * 1000;
    desk.say.frame(frameAt(onUs - 5000, 1));
    desk.say.frame(frameAt(onUs + 1000, 2));
    desk.say.frame(frameAt(clearUs - 1, 3));
    expect(desk.lines('frame')).toEqual([]);
    desk.run(100);
    desk.say.frame(frameAt(clearUs, 4));
    desk.say.frame(frameAt(clearUs + 33_000, 5));
    expect(desk.lines('frame').map(({ sequence }) => sequence)).toEqual([4]);
    expect(desk.lines('frame')[0].pressToFrameUs).toBe(clearUs + 10_000 - (onUs - 8000));
  });

  it('is refused while another is being taken, until the lock-out is over', () => {
    const desk = createDesk();
    desk.contact(true);
    desk.run(10);
    desk.contact(false);
    desk.run(100);
    desk.press(20);
    expect(desk.lines('refused')).toEqual([{ why: 'busy' }]);
    desk.run(desk.config.shutter.lockoutMs);
    desk.press(20);
    expect(desk.lines('press').map(({ shot }) => shot)).toEqual([1, 2]);
  });

  it('is refused with its reason: warming, blind, battery low', () => {
    const desk = createDesk({ byHand: ['start'] });
    desk.press();
    desk.run(1000);
    desk.say.album({ kind: 'opened', pending: [], nextShot: 5, paperUsedMm: 0 });
    desk.press();
    desk.run(1000);
    desk.say.webcam({ kind: 'lost', why: 'no webcam is plugged in' });
    desk.press();
    desk.run(1000);
    desk.say.webcam({ kind: 'ready' });
    desk.say.supply({ kind: 'voltage', volts: 6.1, low: true });
    desk.press();
    desk.run(1000);
    desk.say.supply({ kind: 'voltage', volts: 6.9, low: false });
    desk.press();
    desk.run(1000);
    expect(desk.lines('refused').map(({ why }) => why)).toEqual(['warming', 'warming', 'blind', 'supply-low']);
    expect(desk.lines('press')).toEqual([{ shot: 5, settledUs: 8000 }]);
    expect(desk.lines('supply').map(({ low }) => low)).toEqual([true, false]);
    expect(desk.seen.lamp.filter(name => name === 'refused')).toHaveLength(4);
  });

  it('is refused once the queue is full, and taken again when there is room', () => {
    const desk = createDesk();
    desk.say.condition({ paperOut: true });
    for (let i = 0; i < 6; i++) {
      desk.press();
      desk.run(500);
    }
    // One in hand and three that wait.
    expect(desk.lines('press')).toHaveLength(4);
    expect(desk.lines('refused')).toEqual([{ why: 'queue-full' }, { why: 'queue-full' }]);
    desk.say.condition({ paperOut: false });
    desk.run(3000);
    desk.press();
    expect(desk.lines('press')).toHaveLength(5);
    desk.run(15_000);
    expect(desk.seen.bodies).toEqual([1, 2, 3, 4, 5]);
  });

  it('with no room to wait, is taken only when nothing is in hand', () => {
    const desk = createDesk({
      config(config) {
        config.queue.longest = 0;
      },
    });
    desk.press();
    desk.run(1000);
    desk.press();
    desk.run(3000);
    desk.press();
    expect(desk.lines('press')).toHaveLength(2);
    expect(desk.lines('refused')).toEqual([{ why: 'queue-full' }]);
  });
});

describe('a coil that fails', () => {
  it('never costs the picture', () => {
    let fails = true;
    const desk = createDesk({ coilFails: () => fails });
    desk.press();
    desk.run(4000);
    expect(desk.lines('coil-fault').map(({ why }) => why)).toEqual(['no current']);
    expect(desk.seen.bodies).toEqual([1]);
    expect(desk.seen.kept).toEqual([1]);
    fails = false;
    desk.press();
    desk.run(4000);
    expect(desk.lines('coil')).toHaveLength(2);
  });

  it('that comes back meanwhile gives no second stroke, which would sound like a first', () => {
    let fails = true;
    const desk = createDesk({ coilFails: () => fails });
    desk.press(20);
    fails = false;
    desk.run(4000);
    expect(desk.seen.coil).toEqual([]);
    expect(desk.seen.kept).toEqual([1]);
    fails = false;
    desk.press(20);
    fails = true;
    desk.run(4000);
    expect(desk.lines('coil').map(({ stroke }) => stroke)).toEqual(['first']);
    expect(desk.lines('coil-fault')).toHaveLength(2);
  });

  it('that can’t even be listened to counts as one that fails', () => {
    const desk = createDesk({
      shutter: () => ({
        energise() {},
        release() {},
        listen() {
          throw new Error('no word');
        },
      }),
    });
    desk.press();
    desk.run(4000);
    expect(desk.lines('coil-fault')).toEqual([{ why: 'no word' }]);
    expect(desk.seen.bodies).toEqual([1]);
    expect(desk.machine.states().exposure).toBe('ready');
  });

  it('when letting go fails, frames are judged by the coil’s own limit', () => {
    const desk = createDesk({ throws: ['release'], byHand: ['frames'] });
    desk.press();
    const [{ onUs }] = desk.seen.coil;
    const { longestPulseMs, bladesClearMs } = desk.config.shutter;
    const clearUs = onUs + (longestPulseMs + bladesClearMs) * 1000;
    desk.run(200);
    expect(desk.lines('coil-fault')).toEqual([{ why: 'no release' }]);
    expect(desk.lines('part-fault')).toEqual([{ part: 'shutter', why: 'no release' }]);
    desk.say.frame(frameAt(clearUs - 1, 1));
    desk.say.frame(frameAt(clearUs, 2));
    expect(desk.lines('frame').map(({ sequence }) => sequence)).toEqual([2]);
  });

  it('waits while the head needs the supply, and is left out where that takes too long', () => {
    let waitUs = 40_000;
    const asked: number[] = [];
    const desk = createDesk({
      coilWaitUs(pulseUs) {
        asked.push(pulseUs);
        const answer = waitUs;
        waitUs = Math.max(0, waitUs - 40_000);
        return answer;
      },
    });
    desk.press();
    desk.run(400);
    expect(desk.lines('coil')[0].pressToCoilUs).toBe(48_000);
    expect(asked[0]).toBe(desk.config.shutter.pulseMs * 1000);
    desk.run(4000);
    waitUs = Number.POSITIVE_INFINITY;
    desk.press();
    desk.run(4000);
    expect(desk.lines('coil-fault')[0]).toEqual({ why: 'the head needs all of the supply' });
    expect(desk.seen.bodies).toEqual([1, 2]);
  });
});

describe('a coil that says when it let go', () => {
  const withWord = (afterMs: number | null) => {
    let heard: (said: ShutterSaid) => void = () => {};
    const strokes: number[] = [];
    const desk = createDesk({
      byHand: ['frames', 'keep'],
      shutter: own => ({
        energise() {
          strokes.push(own.nowUs());
        },
        release() {
          const atUs = own.nowUs() + (afterMs ?? 0) * 1000;
          if (afterMs === 0) heard({ kind: 'released', atUs });
          else if (afterMs !== null) own.after(afterMs * 1000, () => heard({ kind: 'released', atUs }));
        },
        listen(now) {
          heard = now;
          return () => {
            heard = () => {};
          };
        },
      }),
    });
    return { desk, strokes, heard: (atUs: number) => heard({ kind: 'released', atUs }) };
  };

  it.each([
    ['at once', 0, 25],
    ['late, after a stall', 37, 62],
    ['never: then its limit is believed', null, 60],
  ] as const)('%s', (_, afterMs, offMs) => {
    const { desk, strokes } = withWord(afterMs);
    desk.press();
    desk.run(500);
    const clearUs = strokes[0] + (offMs + desk.config.shutter.bladesClearMs) * 1000;
    desk.say.frame(frameAt(clearUs - 1, 1));
    expect(desk.lines('frame')).toEqual([]);
    desk.say.frame(frameAt(clearUs, 2));
    expect(desk.lines('frame')).toHaveLength(1);
  });

  it('before our own timer, by its own limit', () => {
    const { desk, strokes, heard } = withWord(null);
    desk.contact(true);
    desk.run(8 + 10);
    heard(strokes[0] - 1000);
    heard(strokes[0] + 9000);
    expect(desk.machine.states().exposure).toBe('firing');
    desk.run(30);
    expect(desk.machine.states().exposure).toBe('grabbing');
    desk.say.frame(frameAt(strokes[0] + 9000 + desk.config.shutter.bladesClearMs * 1000, 1));
    expect(desk.lines('frame')).toHaveLength(1);
  });
});

describe('a picture that can’t be kept', () => {
  it('is printed from memory, signalled, and gets no second stroke', () => {
    const desk = createDesk({ byHand: ['keep'] });
    desk.press();
    desk.run(200);
    desk.pending.keep[0].answer({ kind: 'failed', why: 'disk full' });
    desk.run(4000);
    expect(desk.lines('not-kept')).toEqual([{ shot: 1, why: 'disk full' }]);
    expect(desk.seen.coil).toHaveLength(1);
    expect(desk.seen.bodies).toEqual([1]);
    // It may have reached the disk all the same: marked, it isn't printed again at the next start.
    expect(desk.seen.marks).toEqual([
      [1, 'closing'],
      [1, 'printed'],
    ]);
    expect(desk.seen.lamp).toContain('unkept');
  });

  it('an album that never answers doesn’t hold up the camera; its late word still counts', () => {
    const desk = createDesk({ byHand: ['keep', 'mark'] });
    desk.press();
    desk.run(35_000);
    expect(desk.lines('not-kept')).toEqual([{ shot: 1, why: 'the album doesn’t answer' }]);
    expect(desk.machine.states()).toMatchObject({ exposure: 'ready', output: 'idle' });
    expect(desk.seen.tails).toEqual([1]);
    desk.press();
    desk.run(500);
    desk.pending.keep[0].answer({ kind: 'kept' });
    expect(desk.machine.states().exposure).toBe('keeping');
    desk.pending.keep[1].answer({ kind: 'kept' });
    desk.run(15_000);
    expect(desk.lines('kept')).toHaveLength(1);
    expect(desk.machine.states().output).toBe('sealing.marking');
    expect(desk.seen.tails).toEqual([1]);
  });

  it('an album that throws counts as one that failed', () => {
    const desk = createDesk({ throws: ['keep'] });
    desk.press();
    desk.run(4000);
    expect(desk.lines('not-kept')).toEqual([{ shot: 1, why: 'no keep' }]);
    expect(desk.seen.bodies).toEqual([1]);
  });
});

describe('a press that no picture comes of', () => {
  it('when no fit frame comes in time', () => {
    const desk = createDesk({ byHand: ['frames'] });
    desk.press();
    desk.run(desk.config.webcam.frameTimeoutMs + 100);
    expect(desk.lines('missed')).toEqual([{ shot: 1, why: 'no fit frame came in time' }]);
    expect(desk.machine.states()).toMatchObject({ exposure: 'ready', notice: 'missed', output: 'idle' });
    expect(desk.running.has('watch')).toBe(false);
  });

  it('when the webcam goes meanwhile; the camera is ready when it is back', () => {
    const desk = createDesk({ byHand: ['frames'] });
    desk.press();
    desk.say.webcam({ kind: 'lost', why: 'unplugged' });
    desk.run(400);
    expect(desk.lines('missed')).toEqual([{ shot: 1, why: 'the webcam is gone' }]);
    expect(desk.machine.states().exposure).toBe('blind');
    desk.say.webcam({ kind: 'ready' });
    expect(desk.machine.states().exposure).toBe('ready');
    expect(desk.lines('ready')).toHaveLength(2);
  });

  it('when the webcam can’t be watched', () => {
    const desk = createDesk({ throws: ['watch'] });
    desk.press();
    desk.run(400);
    expect(desk.lines('missed')).toEqual([{ shot: 1, why: 'the webcam failed' }]);
    expect(desk.machine.states().exposure).toBe('ready');
  });
});

describe('a burst', () => {
  const burst = (options = {}) =>
    createDesk({
      config(config) {
        config.picture.burst = 3;
      },
      ...options,
    });

  it('is three pictures of one press, one stroke at each end', () => {
    const desk = burst();
    desk.press();
    desk.run(15_000);
    expect(desk.lines('press')).toHaveLength(1);
    expect(desk.lines('frame').map(({ shot }) => shot)).toEqual([1, 2, 3]);
    expect(desk.seen.coil).toHaveLength(2);
    expect(desk.seen.kept).toEqual([1, 2, 3]);
    expect(desk.seen.bodies).toEqual([1, 2, 3]);
    const at = desk.log.filter(({ event }) => event === 'frame').map(({ atUs }) => atUs);
    expect(at[1] - at[0]).toBeGreaterThan(600_000);
    expect(at[2] - at[1]).toBeGreaterThan(600_000);
  });

  it('is acknowledged only if all of it is safe', () => {
    const desk = burst({ byHand: ['keep'] });
    desk.press();
    desk.run(300);
    desk.pending.keep[0].answer({ kind: 'failed', why: 'disk full' });
    for (let i = 1; i < 3; i++) {
      desk.run(900);
      desk.pending.keep[i].answer({ kind: 'kept' });
    }
    desk.run(15_000);
    expect(desk.seen.coil).toHaveLength(1);
    expect(desk.seen.bodies).toEqual([1, 2, 3]);
  });
});

describe('time', () => {
  it('a board that doesn’t know the date says so to nobody', () => {
    const seen: (number | null)[] = [];
    const capture = (wallAtStartMs: number) => {
      const desk = createDesk({ wallAtStartMs, onKeep: about => seen.push(about.takenAtMs) });
      desk.press();
      desk.run(1000);
    };
    capture(12_345);
    capture(Date.UTC(2026, 4, 1));
    expect(seen[0]).toBeNull();
    expect(new Date(seen[1] ?? 0).toISOString()).toMatch(/^2026-05-01T00:00:00/);
  });
});
