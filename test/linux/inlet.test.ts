import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { createVirtualClock } from '../../sim/clock.ts';
import { createBoardClock, type Host } from '../../src/linux/inlet.ts';
import type { Clock, PartName } from '../../src/parts/clock.ts';

/** A board whose event loop is late: its timers wake by `lateUs`, its wall clock can be set. */
const createBoard = () => {
  const world = createVirtualClock();
  world.runUntil(5_000_000);
  const board = { lateUs: 0, wallMs: 1_000_000 };
  const host: Host = {
    monotonicUs: () => world.nowUs(),
    wallMs: () => board.wallMs + Math.floor(world.nowUs() / 1000),
    wake: (delayUs, due) => world.after(delayUs + board.lateUs, due),
    soon: act => void world.after(0, act),
  };
  return { world, board, host };
};

/** A small machine: inputs start chains of timers, timers note when they fire. */
const createMachine = (clock: Clock) => {
  const seen: string[] = [];
  const chain = (name: string, delayUs: number, left: number) => {
    clock.after(delayUs, () => {
      seen.push(`${clock.nowUs()} ${name} ${left}`);
      if (left > 0) chain(name, delayUs, left - 1);
    });
  };
  return {
    seen,
    hear(name: string, delayUs: number, left: number) {
      seen.push(`${clock.nowUs()} ${name} heard`);
      chain(name, delayUs, left);
    },
  };
};

describe('the board clock', () => {
  it('fires timers due before an input at their own deadlines, then delivers the input at its stamp', () => {
    const { world, board, host } = createBoard();
    board.lateUs = 100_000;
    const { clock, inlet } = createBoardClock({ host });
    const seen: string[] = [];
    const note = (what: string) => seen.push(`${clock.nowUs()} ${what}`);
    clock.after(3000, () => note('second'));
    clock.after(1000, () => {
      note('first');
      clock.after(500, () => note('set meanwhile'));
    });
    clock.after(9000, () => note('not yet'));
    world.runUntil(world.nowUs() + 4000);
    inlet.take('button', {}, () => note('input'));
    expect(seen).toEqual(['1000 first', '1500 set meanwhile', '3000 second', '4000 input']);
  });

  it('fires a timer at its deadline when the event loop wakes late, and says that it stalled', () => {
    const { world, board, host } = createBoard();
    const stalls: number[] = [];
    const { clock } = createBoardClock({ host, onStall: lateUs => stalls.push(lateUs) });
    const fired: number[] = [];
    clock.after(1000, () => fired.push(clock.nowUs()));
    world.runUntil(world.nowUs() + 2000);
    board.lateUs = 400_000;
    clock.after(1000, () => fired.push(clock.nowUs()));
    world.runUntil(world.nowUs() + 500_000);
    expect(fired).toEqual([1000, 2000]);
    expect(stalls).toHaveLength(1);
    expect(stalls[0]).toBeGreaterThanOrEqual(399_000);
  });

  it('after a stall hears what waits before the timers go on, each thing in its place among them', () => {
    const { world, board, host } = createBoard();
    board.lateUs = 400_000;
    const { clock, inlet } = createBoardClock({ host });
    const seen: string[] = [];
    const note = (what: string) => () => seen.push(`${clock.nowUs()} ${what}`);
    clock.after(50_000, note('timer'));
    clock.after(100_000, note('one that the edge comes before'));
    const startUs = world.nowUs();
    // The loop wakes late by 0.4 s: a reader without stamps comes first, then the edges that the kernel kept.
    world.after(450_000, () => {
      inlet.take('printer', {}, note('bytes'));
      inlet.take('button', {}, note('down'), 20_000);
      inlet.take('button', {}, note('up'), 70_000);
    });
    world.runUntil(startUs + 600_000);
    expect(seen).toEqual([
      '20000 down',
      '50000 timer',
      '70000 up',
      '100000 one that the edge comes before',
      '450000 bytes',
    ]);
  });

  it('never takes a stamp back behind what was heard, nor ahead of the time', () => {
    const { world, host } = createBoard();
    const { clock, inlet } = createBoardClock({ host });
    const at: number[] = [];
    world.runUntil(world.nowUs() + 10_000);
    inlet.take('printer', {}, () => at.push(clock.nowUs()));
    inlet.take('button', {}, () => at.push(clock.nowUs()), 3000);
    inlet.take('button', {}, () => at.push(clock.nowUs()), 90_000);
    expect(at).toEqual([10_000, 10_000, 10_000]);
  });

  it('takes an input heard inside another after it, stamped and recorded as one of its own', () => {
    const { host } = createBoard();
    const { inlet, record } = createBoardClock({ host });
    const order: string[] = [];
    record((_, part) => order.push(`recorded ${part}`));
    inlet.take('button', {}, () => {
      inlet.take('printer', {}, () => order.push('printer'));
      order.push('button');
    });
    expect(order).toEqual(['recorded button', 'button', 'recorded printer', 'printer']);
  });

  it('takes a clock that was set as an input, before the input that found it out', () => {
    const { world, board, host } = createBoard();
    const said: [PartName, Record<string, unknown>][] = [];
    const steps: number[] = [];
    const { clock, inlet, record } = createBoardClock({ host, onWallStep: ms => steps.push(ms) });
    record((_, part, what) => said.push([part, what]));
    const before = clock.wallMs();
    world.runUntil(world.nowUs() + 1_000_000);
    board.wallMs += 3_600_000;
    inlet.take('button', { kind: 'level' }, () => {});
    expect(said).toEqual([
      ['clock', { kind: 'stepped', stepMs: 3_600_000 }],
      ['button', { kind: 'level' }],
    ]);
    expect(steps).toEqual([3_600_000]);
    expect(clock.wallMs()).toBe(before + 1000 + 3_600_000);
  });

  it('places kernel stamps on its own time', () => {
    const { world, host } = createBoard();
    const startedAt = world.nowUs();
    const { fromMonotonicUs } = createBoardClock({ host });
    expect(fromMonotonicUs(startedAt + 1234.6)).toBe(1235);
    expect(fromMonotonicUs(startedAt - 10)).toBe(0);
  });

  it('is still once it is stopped', () => {
    const { world, host } = createBoard();
    const { clock, inlet, stop } = createBoardClock({ host });
    const seen: string[] = [];
    clock.after(1000, () => seen.push('timer'));
    inlet.take('button', {}, () => {
      inlet.take('printer', {}, () => seen.push('printer'));
      stop();
    });
    world.runUntil(world.nowUs() + 10_000);
    inlet.take('button', {}, () => seen.push('button'));
    expect(seen).toEqual([]);
    expect(world.pending).toBe(0);
  });

  it('makes a run that a virtual clock repeats from the stamps alone, however late the loop was', () => {
    const input = fc.record({
      gapUs: fc.integer({ min: 0, max: 50_000 }),
      lateUs: fc.integer({ min: 0, max: 80_000 }),
      delayUs: fc.integer({ min: 0, max: 30_000 }),
      left: fc.integer({ min: 0, max: 6 }),
    });
    fc.assert(
      fc.property(fc.array(input, { maxLength: 30 }), inputs => {
        const { world, board, host } = createBoard();
        const { clock, inlet, record } = createBoardClock({ host });
        const live = createMachine(clock);
        const recording: { atUs: number; said: Record<string, unknown> }[] = [];
        record((atUs, _, said) => recording.push({ atUs, said }));
        inputs.forEach(({ gapUs, lateUs, delayUs, left }, i) => {
          board.lateUs = lateUs;
          world.runUntil(world.nowUs() + gapUs);
          inlet.take('button', { i }, () => live.hear(`input ${i}`, delayUs, left));
        });
        world.runUntil(world.nowUs() + 1_000_000);

        const desk = createVirtualClock();
        const again = createMachine(desk);
        for (const { atUs, said } of recording) {
          desk.runUntil(atUs);
          const { delayUs, left } = inputs[said.i as number];
          again.hear(`input ${said.i}`, delayUs, left);
        }
        desk.runUntil(10_000_000);
        expect(recording).toHaveLength(inputs.length);
        expect(again.seen).toEqual(live.seen);
      }),
    );
  });
});
