import { describe, expect, it } from 'vitest';
import { createBounce, createVirtualButton, studiedBounce } from '../../sim/button.ts';
import { createVirtualClock } from '../../sim/clock.ts';
import { chance } from '../../sim/random.ts';
import { createTraces } from '../../sim/traces.ts';

const setUp = (seed = 1) => {
  const clock = createVirtualClock();
  const traces = createTraces(clock.nowUs);
  const { button, control } = createVirtualButton(clock, traces, chance(seed));
  const heard: { down: boolean; atUs: number }[] = [];
  button.listen(({ down, atUs }) => heard.push({ down, atUs }));
  return { clock, traces, control, heard };
};

describe('contact bounce', () => {
  // Ganssle, A Guide to Debouncing (figures as quoted elsewhere): sixteen switches, mean 1,557 µs, longest 6,200 µs.
  it('has the mean and the maximum of the published study', () => {
    const bounce = createBounce(studiedBounce, chance(5));
    const times = Array.from({ length: 20_000 }, () => bounce().at(-1) ?? 0);
    const mean = times.reduce((sum, t) => sum + t, 0) / times.length;
    expect(Math.abs(mean - 1557)).toBeLessThan(30);
    expect(Math.max(...times)).toBeLessThanOrEqual(6200);
    expect(Math.max(...times)).toBeGreaterThan(6100);
  });

  it('ends at the level that the finger asks for, with edges in between', () => {
    const { clock, control, heard } = setUp();
    control.press(100);
    clock.runUntil(50_000);
    expect(heard.at(-1)?.down).toBe(true);
    expect(heard.every(({ down }, i) => down === (i % 2 === 0))).toBe(true);
    clock.runUntil(500_000);
    expect(heard.at(-1)?.down).toBe(false);
    expect(heard.length).toBeGreaterThan(4);
  });

  it('is the same for the same seed and another for another', () => {
    const edges = (seed: number) => {
      const { clock, control, heard } = setUp(seed);
      control.press(100);
      clock.runUntil(500_000);
      return heard;
    };
    expect(edges(3)).toEqual(edges(3));
    expect(edges(3)).not.toEqual(edges(4));
  });
});

describe('the button', () => {
  it('chatters in a storm and ends open', () => {
    const { clock, control, heard } = setUp();
    control.storm(30);
    clock.runUntil(1_000_000);
    expect(heard.length).toBeGreaterThan(30);
    expect(heard.at(-1)?.down).toBe(false);
    expect(heard.at(-1)!.atUs).toBeLessThanOrEqual(30_000);
  });

  it('welded, it says nothing more; freed, it says where the finger is', () => {
    const { clock, control, heard } = setUp();
    control.stick(true);
    control.press(50);
    clock.runUntil(100_000);
    expect(heard).toEqual([{ down: true, atUs: 0 }]);
    control.stick(null);
    expect(heard.at(-1)).toEqual({ down: false, atUs: 100_000 });
  });
});
