import { describe, expect, it } from 'vitest';
import { createVirtualClock } from '../../sim/clock.ts';
import { keepSpaced } from '../../src/linux/printer/spaced.ts';
import type { Printer, PrinterSaid } from '../../src/parts/printer.ts';

/** A writer on a logical clock of its own over a wire that says `drained` one millisecond after each write. */
const setUp = () => {
  const real = createVirtualClock();
  let logicalUs = 0;
  const left: { atUs: number; first: number }[] = [];
  let say: (said: PrinterSaid) => void = () => {};
  let discarded = 0;
  const wire: Printer = {
    open(heard) {
      say = heard;
      return () => {};
    },
    write(bytes) {
      left.push({ atUs: real.nowUs(), first: bytes[0] });
      const count = left.length;
      real.after(1000, () => left.length === count && say({ kind: 'drained' }));
    },
    discard() {
      discarded++;
    },
  };
  const printer = keepSpaced(wire, () => logicalUs, real.nowUs, real);
  const heard: { atUs: number; kind: string }[] = [];
  printer.open(({ kind }) => heard.push({ atUs: real.nowUs(), kind }));
  return {
    left,
    heard,
    printer,
    lose: () => say({ kind: 'lost', why: 'unplugged' }),
    discarded: () => discarded,
    passMs: (ms: number) => real.runUntil(real.nowUs() + ms * 1000),
    /** Written at this moment of the logical clock, whatever the real one says. */
    write(atMs: number, first: number) {
      logicalUs = atMs * 1000;
      printer.write(Uint8Array.of(first));
    },
  };
};

describe('writes to a printer after a stall', () => {
  it('go out at once where nothing is late, or no later than the pacing bears', () => {
    const { left, write, passMs } = setUp();
    write(0, 1);
    passMs(28);
    write(20, 2);
    expect(left).toEqual([
      { atUs: 0, first: 1 },
      { atUs: 28_000, first: 2 },
    ]);
  });

  it('keep the distance that they were meant to have, and drained comes after the last', () => {
    const { left, heard, write, passMs } = setUp();
    write(0, 1);
    // The event loop stood still for 500 ms: what was due meanwhile is written in one go.
    passMs(520);
    for (const [atMs, first] of [
      [20, 2],
      [40, 3],
      [60, 4],
    ])
      write(atMs, first);
    passMs(100);
    // Not one of these milliseconds is made good: what comes early has no room in a small buffer.
    expect(left.map(({ atUs }) => atUs)).toEqual([0, 520_000, 540_000, 560_000]);
    expect(left.map(({ first }) => first)).toEqual([1, 2, 3, 4]);
    expect(heard.map(({ atUs }) => atUs)).toEqual([1000, 561_000]);
  });

  it('stay as late while they follow one another closely, and no longer after a pause', () => {
    const { left, write, passMs } = setUp();
    write(0, 1);
    passMs(320);
    write(20, 2);
    passMs(20);
    // On time by now, yet meant to be 30 ms after one that was 300 ms late.
    write(50, 3);
    write(340, 4);
    passMs(500);
    expect(left.map(({ atUs }) => atUs)).toEqual([0, 320_000, 350_000, 550_000]);
    write(840, 5);
    expect(left[4].atUs).toBe(840_000);
  });

  it('catch up where they come seldom: questions to a printer are never late for good', () => {
    const { left, write, passMs } = setUp();
    write(0, 1);
    passMs(14_020);
    const burst = [20, 40, 60];
    burst.forEach((atMs, i) => {
      write(atMs, 2 + i);
    });
    for (let i = 0; i < 20; i++) {
      passMs(1000);
      write(15_020 + i * 1000, 10 + i);
    }
    expect(left).toHaveLength(1 + burst.length + 20);
    expect(left.at(-1)?.atUs).toBe(34_020_000);
  });

  it('are dropped with what was written before when the wire is lost or is told to', () => {
    const { left, write, passMs, lose, printer, discarded } = setUp();
    write(0, 1);
    passMs(300);
    write(20, 2);
    write(40, 3);
    lose();
    passMs(100);
    expect(left).toHaveLength(2);
    write(420, 4);
    passMs(500);
    write(430, 5);
    write(450, 6);
    printer.discard();
    passMs(100);
    expect(left.map(({ first }) => first)).toEqual([1, 2, 4, 5]);
    expect(discarded()).toBe(1);
  });

  it('wait longer where another stall holds up those that wait', () => {
    const real = createVirtualClock();
    let stalledUntilUs = 0;
    const left: number[] = [];
    const wire: Printer = { open: () => () => {}, write: () => void left.push(real.nowUs()), discard() {} };
    // Timers of an event loop that stands still fire when it goes on.
    const after = (delayUs: number, due: () => void) =>
      real.after(delayUs, () => real.after(Math.max(0, stalledUntilUs - real.nowUs()), due));
    const printer = keepSpaced(wire, () => logicalUs, real.nowUs, { after });
    let logicalUs = 0;
    printer.write(Uint8Array.of(1));
    real.runUntil(300_000);
    for (const atUs of [20_000, 40_000, 60_000]) {
      logicalUs = atUs;
      printer.write(Uint8Array.of(2));
    }
    stalledUntilUs = 820_000;
    real.runUntil(1_000_000);
    expect(left).toEqual([0, 300_000, 820_000, 840_000]);
  });
});
