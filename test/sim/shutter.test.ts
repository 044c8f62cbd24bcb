import { describe, expect, it } from 'vitest';
import { createVirtualClock } from '../../sim/clock.ts';
import { createVirtualShutter } from '../../sim/shutter.ts';
import { createVirtualSupply } from '../../sim/supply.ts';
import { createTraces } from '../../sim/traces.ts';
import { isFault } from '../../src/parts/fault.ts';

const setUp = (openVolts = 12) => {
  const clock = createVirtualClock();
  const traces = createTraces(clock.nowUs);
  const supply = createVirtualSupply(clock, traces, { openVolts, internalOhm: 0, floorVolts: 6, measured: true });
  const shutter = createVirtualShutter(
    clock,
    traces,
    { coilOhm: 12, coilMh: 20, longestPulseMs: 60, dutyPercent: 15, bladesClearMs: 20, nominalVolts: 12 },
    supply,
  );
  return { clock, traces, supply, shutter };
};

describe('the virtual shutter', () => {
  // 12 V, 12 Ω, 20 mH: τ 1.67 ms, 60 % of the current at 1.53 ms (calculated); 2.5 ms of travel is invented.
  it('pulls in when the current has risen to 60 %', () => {
    const { clock, traces, shutter } = setUp();
    shutter.energise();
    clock.runUntil(30_000);
    expect(traces.of('blades')).toEqual([{ atUs: 1527 + 2500, value: 1 }]);
  });

  it('the blades clear the lens within what the configuration allows', () => {
    const { clock, traces, shutter } = setUp();
    shutter.energise();
    clock.runUntil(25_000);
    shutter.release();
    clock.runUntil(100_000);
    const cleared = traces.of('blades').at(-1)!;
    expect(cleared.value).toBe(0);
    expect(cleared.atUs).toBeGreaterThan(25_000);
    expect(cleared.atUs).toBeLessThanOrEqual(45_000);
    expect(shutter.crossing(0, 4_000)).toBe(0);
    expect(shutter.crossing(10_000, 20_000)).toBe(1);
    expect(shutter.crossing(cleared.atUs, cleared.atUs + 1000)).toBe(0);
  });

  it('lets go by itself at the longest pulse, and says that it had to', () => {
    const { clock, traces, shutter } = setUp();
    shutter.energise();
    clock.runUntil(1_000_000);
    expect(traces.of('coil')).toEqual([
      { atUs: 0, value: 1 },
      { atUs: 60_000, value: 0 },
    ]);
    expect(traces.of('coil-limit')).toEqual([{ atUs: 60_000, value: 60_000 }]);
  });

  it('is never on for more than its duty within ten seconds', () => {
    const { clock, traces, shutter } = setUp();
    let refused = 0;
    for (let i = 0; i < 400; i++) {
      try {
        shutter.energise();
      } catch (error) {
        expect(isFault(error)).toBe(true);
        refused++;
      }
      clock.runUntil(clock.nowUs() + 50_000);
      shutter.release();
      clock.runUntil(clock.nowUs() + 50_000);
    }
    expect(refused).toBeGreaterThan(0);
    const pulses = traces.of('coil');
    for (let i = 0; i < pulses.length; i += 2) {
      const from = pulses[i].atUs;
      let onUs = 0;
      for (let j = i; j + 1 < pulses.length && pulses[j].atUs < from + 10_000_000; j += 2) {
        onUs += Math.min(pulses[j + 1].atUs, from + 10_000_000) - pulses[j].atUs;
      }
      expect(onUs).toBeLessThanOrEqual(1_500_000);
    }
  });

  // Copper: R = R₀(1 + 0.00393 ΔT); 12 Ω at +60 K is 14.8 Ω (calculated from the published coefficient).
  it('a hot coil on a weak battery no longer pulls in', () => {
    const { clock, supply, shutter } = setUp();
    supply.weaken(7);
    shutter.energise();
    clock.runUntil(30_000);
    expect(shutter.strokes).toBe(0);
    shutter.release();
    supply.heal();
    shutter.energise();
    clock.runUntil(60_000);
    expect(shutter.strokes).toBe(1);
    expect(shutter.temperatureC()).toBeGreaterThan(25);
  });

  it('that can’t be driven says so as a fault of a part', () => {
    const { shutter } = setUp();
    shutter.fail('no such line');
    expect(() => shutter.energise()).toThrow(/no such line/);
    shutter.fail(null);
    expect(() => shutter.energise()).not.toThrow();
  });
});
