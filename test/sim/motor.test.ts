import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { createVirtualClock } from '../../sim/clock.ts';
import { createVirtualLamp } from '../../sim/lamp.ts';
import { createVirtualMotor } from '../../sim/motor.ts';
import { createTraces } from '../../sim/traces.ts';

const setUp = () => {
  const clock = createVirtualClock();
  const traces = createTraces(clock.nowUs);
  return { clock, traces };
};
const spans = (samples: readonly { atUs: number; value: number | string }[], endUs: number) => {
  const all: { from: number; to: number }[] = [];
  for (const { atUs, value } of samples) {
    if (value === 1) all.push({ from: atUs, to: endUs });
    else all.at(-1)!.to = atUs;
  }
  return all;
};

describe('the virtual motor', () => {
  it('never drives both sides, keeps its dead time and its travel, whatever it is told', () => {
    const order = fc.record({
      direction: fc.constantFrom('in', 'out', 'off' as const),
      waitUs: fc.integer({ min: 0, max: 600_000 }),
    });
    fc.assert(
      fc.property(fc.array(order, { maxLength: 40 }), orders => {
        const { clock, traces } = setUp();
        const motor = createVirtualMotor(clock, traces, { deadMs: 2, travelMs: 400 });
        for (const { direction, waitUs } of orders) {
          motor.drive(direction);
          clock.runUntil(clock.nowUs() + waitUs);
        }
        motor.powerOff();
        const [ins, outs] = [traces.of('motor-in'), traces.of('motor-out')].map(t => spans(t, clock.nowUs()));
        for (const a of ins) {
          for (const b of outs) expect(a.to + 2000 <= b.from || b.to + 2000 <= a.from).toBe(true);
        }
        for (const { from, to } of [...ins, ...outs]) expect(to - from).toBeLessThanOrEqual(400_000);
      }),
      { seed: 7, numRuns: 300 },
    );
  });
});

describe('the virtual lamp', () => {
  it('plays its pattern, and showing the same again doesn’t restart it', () => {
    const { clock, traces } = setUp();
    const lamp = createVirtualLamp(clock, traces);
    const pattern = { name: 'test', stepsMs: [100, 50] };
    lamp.show(pattern);
    clock.runUntil(120_000);
    lamp.show({ ...pattern });
    clock.runUntil(300_000);
    lamp.show({ name: 'steady', stepsMs: [Number.POSITIVE_INFINITY] });
    clock.runUntil(5_000_000);
    lamp.show({ name: 'dark', stepsMs: [] });
    expect(traces.of('lamp').map(({ atUs, value }) => [atUs / 1000, value])).toEqual([
      [0, 1],
      [100, 0],
      [150, 1],
      [250, 0],
      [300, 1],
      [5000, 0],
    ]);
  });
});
