import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { createPacer, type PacedStep, pace, type Schedule, type Wire } from '../../src/print/pace.ts';
import { wireOf } from '../../src/print/wire.ts';
import { configOf, profileOf } from './desk.ts';

/** A printer byte by byte, by other means than the pacer's: what waits while it is busy, and when each step begins. */
const received = (steps: readonly PacedStep[], { writes }: Schedule, byteUs: number) => {
  const startsUs: number[] = [];
  let peak = 0;
  let stored = 0;
  let read = 0;
  let busyUntilUs = 0;
  let freeUs = 0;
  const begin = (atUs: number) => {
    startsUs.push(atUs);
    busyUntilUs = atUs + steps[startsUs.length - 1].takesUs;
    read = 0;
  };
  const current = () => steps[startsUs.length];
  for (const { atUs, from, to } of writes) {
    for (let i = from; i < to; i++) {
      freeUs = Math.max(freeUs, atUs) + byteUs;
      while (stored > 0 && busyUntilUs <= freeUs + 1e-6) {
        const take = Math.min(stored, current().bytes - read);
        stored -= take;
        read += take;
        if (read < current().bytes) break;
        begin(busyUntilUs);
      }
      if (busyUntilUs <= freeUs + 1e-6) {
        read++;
        if (read === current().bytes) begin(freeUs);
      } else peak = Math.max(peak, ++stored);
    }
  }
  while (stored > 0) {
    const take = Math.min(stored, current().bytes - read);
    stored -= take;
    read += take;
    if (read === current().bytes) begin(busyUntilUs);
  }
  return { startsUs, peak };
};

const early = { slowness: 0, leadUs: Number.POSITIVE_INFINITY };
const steps = fc.array(
  fc.record({
    bytes: fc.oneof(fc.integer({ min: 1, max: 80 }), fc.integer({ min: 1, max: 3000 })),
    takesUs: fc.oneof(fc.constant(0), fc.integer({ min: 1, max: 20_000 })),
    unbroken: fc.boolean(),
    heats: fc.boolean(),
  }),
  { maxLength: 60 },
);
const wires = fc.record({
  byteUs: fc.oneof(
    fc.constant(1),
    fc.integer({ min: 1200, max: 1_000_000 }).map(baud => 10e6 / baud),
  ),
  roomBytes: fc.integer({ min: 8, max: 4096 }),
  slowness: fc.constant(0),
  leadUs: fc.constant(Number.POSITIVE_INFINITY),
});

describe('pace', () => {
  it('never lets more wait than there is room for, and begins each step when it says', () => {
    fc.assert(
      fc.property(steps, wires, (all, wire) => {
        const schedule = pace(all, wire);
        const { startsUs, peak } = received(all, schedule, wire.byteUs);
        expect(peak).toBeLessThanOrEqual(wire.roomBytes);
        expect(startsUs.length).toBe(all.length);
        startsUs.forEach((us, k) => {
          expect(Math.abs(us - schedule.startsUs[k])).toBeLessThan(0.01);
        });
      }),
      { numRuns: 400 },
    );
  });

  it('bears a printer as slow as it was told, and any faster one', () => {
    fc.assert(
      fc.property(steps, wires, fc.double({ min: 0, max: 1, noNaN: true }), (all, wire, part) => {
        // Rows take a tenth of a millisecond more at most, whatever the part.
        const slow = (step: PacedStep) =>
          step.takesUs + part * (step.heats ? Math.min(step.takesUs * 0.02, 100) : step.takesUs * 0.02);
        const schedule = pace(all, { ...wire, slowness: 0.02, leadUs: 5000 });
        const { peak } = received(
          all.map(step => ({ ...step, takesUs: slow(step) })),
          schedule,
          wire.byteUs,
        );
        expect(peak).toBeLessThanOrEqual(wire.roomBytes);
      }),
      { numRuns: 300 },
    );
  });

  it('sends every byte once, in order, and never before its time', () => {
    fc.assert(
      fc.property(steps, wires, (all, wire) => {
        const { writes, arrivedUs, endUs } = pace(all, wire);
        let next = 0;
        let lastUs = 0;
        for (const { atUs, from, to } of writes) {
          expect(from).toBe(next);
          expect(to).toBeGreaterThan(from);
          expect(Number.isInteger(atUs)).toBe(true);
          expect(atUs).toBeGreaterThanOrEqual(lastUs);
          next = to;
          lastUs = atUs;
        }
        const bytes = all.reduce((sum, step) => sum + step.bytes, 0);
        expect(next).toBe(bytes);
        expect(arrivedUs).toBeGreaterThanOrEqual(bytes * wire.byteUs - 1e-6);
        expect(endUs).toBeGreaterThanOrEqual(all.reduce((sum, step) => sum + step.takesUs, 0));
      }),
    );
  });

  it('counts the steps before which the paper stands though it must not', () => {
    const wire: Wire = { byteUs: 100, roomBytes: 192, ...early };
    const row = (takesUs: number, unbroken = true): PacedStep => ({ bytes: 48, takesUs, unbroken, heats: true });
    // A row needs 4.8 ms on this wire.
    expect(pace([row(5000, false), row(5000), row(5000)], wire).starved).toBe(0);
    expect(pace([row(4700, false), row(4700), row(4700)], wire).starved).toBe(0);
    expect(pace([row(4000, false), row(4000), row(4000)], wire)).toMatchObject({ starved: 2, stoodUs: 1600 });
    expect(pace([row(4000, false), row(4000, false), row(4000)], wire).starved).toBe(1);
    // One long row fills the buffer for the short ones after it.
    expect(pace([row(9000, false), row(4000), row(4000), row(4000), row(4000)], wire).starved).toBe(0);
  });

  it('hands bytes over little ahead of the wire', () => {
    const row: PacedStep = { bytes: 48, takesUs: 60_000, unbroken: false, heats: true };
    const { writes } = pace(Array(20).fill(row), { byteUs: 1042, roomBytes: 4096, ...early });
    writes.forEach(({ atUs, from }) => {
      expect(from * 1042 - atUs).toBeLessThanOrEqual(10_000);
    });
    expect(writes.length).toBeLessThan(20 * 6);
  });

  it('foresees what adding would bring, and leaves all as it was', () => {
    const told = { takesUs: 0, unbroken: false, heats: false };
    fc.assert(
      fc.property(steps, steps, wires, fc.integer({ min: 1, max: 500 }), (kept, rows, wire, more) => {
        const pacer = createPacer(wire, []);
        for (const step of kept) pacer.add(step);
        const thought = {
          toldBytes: more,
          sizes: Int32Array.from(rows, ({ bytes }) => bytes),
          takesUs: Float64Array.from(rows, ({ takesUs }) => takesUs),
          unbroken: rows.length % 2 === 0,
        };
        const tried = rows.map((row, k) => ({ ...row, unbroken: thought.unbroken || k > 0, heats: true }));
        const outcome = pacer.foresee(thought, more, Number.POSITIVE_INFINITY);
        const before = pace(kept, wire);
        const after = pace([...kept, { bytes: more, ...told }, ...tried], wire);
        const starved = after.starved - before.starved;
        expect(outcome).toMatchObject({ starved, us: after.endUs - before.endUs });
        // Without slowness a printer that keeps its numbers is the printer.
        expect(outcome?.lateUs).toBeCloseTo(after.arrivedUs + more * wire.byteUs - after.endUs, 3);
        expect(pacer.foresee(thought, more, starved)).toEqual(outcome);
        if (starved > 0) expect(pacer.foresee(thought, more, starved - 1)).toBeNull();
        for (const step of kept) pacer.add(step);
        expect(pacer.schedule()).toEqual(pace([...kept, ...kept], wire));
      }),
      { numRuns: 100 },
    );
  });
});

describe('the wire', () => {
  // 8N1 is ten bits a byte, so that 0.9 s at 115,200 baud are 10,368 bytes, and the same text at 1,000,000 baud 0.104 s.
  it('carries 8N1', () => {
    const at = (baud: number) => wireOf(profileOf(), configOf({ printer: { baud } }).printer).byteUs;
    expect(0.9e6 / at(115_200)).toBeCloseTo(10_368, 6);
    expect((10_368 * at(1_000_000)) / 1e6).toBeCloseTo(0.104, 3);
    // Least baud = 3,840 · v for 384 dots: a row of 48 bytes at 8 rows a millimetre.
    for (const [baud, mmPerS] of [
      [9600, 2.5],
      [19_200, 5],
      [115_200, 30],
      [230_400, 60],
    ])
      expect(1e6 / (48 * at(baud)) / 8).toBeCloseTo(mmPerS, 6);
  });

  it('leaves part of the buffer free, but has room for three rows', () => {
    const room = (widthDots: number, bufferBytes: number, flow: 'none' | 'xonxoff' = 'none') =>
      wireOf(profileOf({ widthDots, bufferBytes }), configOf({ printer: { flow } }).printer).roomBytes;
    expect(room(384, 256)).toBe(192);
    expect(room(576, 256)).toBe(224);
    expect(room(576, 256, 'xonxoff')).toBe(192);
    expect(room(384, 4096)).toBe(3072);
    expect(room(1280, 64)).toBe(48);
  });

  it('has no speed of its own in USB, which loses nothing', () => {
    expect(wireOf(profileOf({ bufferBytes: 4096 }), configOf({ printer: { link: 'usb' } }).printer)).toEqual({
      byteUs: 1,
      roomBytes: 4096,
      ...early,
    });
  });
});
