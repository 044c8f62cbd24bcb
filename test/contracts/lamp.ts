import { expect } from 'vitest';
import type { Lamp } from '../../src/parts/lamp.ts';
import { contract, type Make, type Passing } from './make.ts';

export interface LampBench extends Passing {
  lamp: Lamp;
  /** Each change of light, as the kernel or the virtual world saw it. */
  changes(): Promise<{ atUs: number; lit: boolean }[]>;
}

const blink = { name: 'blink', stepsMs: [100, 200] };

export const lampContract = (name: string, make: Make<LampBench>): void =>
  contract('lamp', name, make, {
    'plays a pattern: on for the first time, off for the second, over again': async bench => {
      bench.lamp.show(blink);
      await bench.pass(650);
      const changes = await bench.changes();
      expect(changes.map(({ lit }) => lit)).toEqual([true, false, true, false, true]);
      const gaps = changes.slice(1).map(({ atUs }, i) => atUs - changes[i].atUs);
      const wanted = [100_000, 200_000, 100_000, 200_000];
      expect(gaps.every((gap, i) => Math.abs(gap - wanted[i]) <= bench.graceUs)).toBe(true);
    },
    'keeps the rhythm when the same pattern is asked for again': async bench => {
      bench.lamp.show(blink);
      for (let i = 0; i < 5; i++) {
        await bench.pass(70);
        bench.lamp.show({ ...blink });
      }
      await bench.pass(10);
      expect((await bench.changes()).map(({ lit }) => lit)).toEqual([true, false, true]);
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
