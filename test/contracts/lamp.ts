import { expect } from 'vitest';
import type { Lamp } from '../../src/parts/lamp.ts';
import { contract, type Make, type Passing, passUntil, stampGrainUs } from './make.ts';

export interface LampBench extends Passing {
  lamp: Lamp;
  /** Each change of light, as the kernel or the virtual world saw it. */
  changes(): Promise<{ atUs: number; lit: boolean }[]>;
}

const blink = { name: 'blink', stepsMs: [100, 200] };

/** The first changes of light are the pattern's, each as long after the one before as it says. */
const expectBlink = async (bench: LampBench, count: number) => {
  const changes = (await bench.changes()).slice(0, count);
  expect(changes.map(({ lit }) => lit)).toEqual(Array.from({ length: count }, (_, i) => i % 2 === 0));
  changes.slice(1).forEach(({ atUs }, i) => {
    const gapUs = atUs - changes[i].atUs;
    const wantedUs = blink.stepsMs[i % 2] * 1000;
    expect(gapUs).toBeGreaterThanOrEqual(wantedUs - stampGrainUs(bench));
    expect(gapUs).toBeLessThanOrEqual(wantedUs + bench.graceUs());
  });
};

export const lampContract = (name: string, make: Make<LampBench>): void =>
  contract('lamp', name, make, {
    'plays a pattern: on for the first time, off for the second, over again': async bench => {
      bench.lamp.show(blink);
      expect(await passUntil(bench, async () => (await bench.changes()).length >= 5, 650)).toBe(true);
      await expectBlink(bench, 5);
    },
    'keeps the rhythm when the same pattern is asked for again': async bench => {
      bench.lamp.show(blink);
      const asked = passUntil(
        bench,
        async () => {
          bench.lamp.show({ ...blink });
          return (await bench.changes()).length >= 4;
        },
        70,
      );
      expect(await asked).toBe(true);
      await expectBlink(bench, 4);
    },
    'is steady, then dark': async bench => {
      bench.lamp.show({ name: 'steady', stepsMs: [Number.POSITIVE_INFINITY] });
      await bench.pass(300);
      expect((await bench.changes()).map(({ lit }) => lit)).toEqual([true]);
      bench.lamp.show({ name: 'dark', stepsMs: [] });
      await bench.pass(300);
      expect((await bench.changes()).map(({ lit }) => lit)).toEqual([true, false]);
    },
  });
