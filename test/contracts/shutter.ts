import { expect } from 'vitest';
import { isFault } from '../../src/parts/fault.ts';
import type { Shutter } from '../../src/parts/shutter.ts';
import { contract, type Make, type Passing } from './make.ts';

/** What the part is made with in every bench. */
export const shutterLimits = { longestPulseMs: 60, dutyPercent: 2 };

export interface ShutterBench extends Passing {
  shutter: Shutter;
  /** What the coil really did, as the kernel or the virtual world saw it; `toUs` null while it is on. */
  pulses(): Promise<{ fromUs: number; toUs: number | null }[]>;
}

const lengths = async (bench: ShutterBench): Promise<number[]> =>
  (await bench.pulses()).map(({ fromUs, toUs }) => (toUs ?? Number.POSITIVE_INFINITY) - fromUs);

export const shutterContract = (name: string, make: Make<ShutterBench>): void =>
  contract('shutter', name, make, {
    'drives the coil from energise to release': async bench => {
      bench.shutter.energise();
      await bench.pass(25);
      bench.shutter.release();
      await bench.pass(20);
      const [onUs, ...more] = await lengths(bench);
      expect(more).toEqual([]);
      expect(onUs).toBeGreaterThanOrEqual(25_000 - bench.graceUs / 10);
      expect(onUs).toBeLessThanOrEqual(25_000 + bench.graceUs);
    },
    'takes a second energise and a second release as said already': async bench => {
      bench.shutter.energise();
      await bench.pass(10);
      bench.shutter.energise();
      await bench.pass(10);
      bench.shutter.release();
      bench.shutter.release();
      await bench.pass(20);
      expect(await lengths(bench)).toHaveLength(1);
    },
    'lets go by itself after the longest pulse': async bench => {
      bench.shutter.energise();
      await bench.pass(300);
      const [onUs, ...more] = await lengths(bench);
      expect(more).toEqual([]);
      expect(onUs).toBeGreaterThanOrEqual(shutterLimits.longestPulseMs * 1000 - bench.graceUs / 10);
      expect(onUs).toBeLessThanOrEqual(shutterLimits.longestPulseMs * 1000 + bench.graceUs);
    },
    'refuses a pulse beyond its duty, as a fault of a part': async bench => {
      const refused: unknown[] = [];
      // 2 % of ten seconds are 200 ms.
      for (let i = 0; i < 8; i++) {
        try {
          bench.shutter.energise();
        } catch (error) {
          refused.push(error);
        }
        await bench.pass(40);
        bench.shutter.release();
        await bench.pass(10);
      }
      const onUs = (await lengths(bench)).reduce((sum, length) => sum + length, 0);
      expect(refused.length).toBeGreaterThan(0);
      expect(refused.every(isFault)).toBe(true);
      expect(onUs).toBeLessThanOrEqual(200_000 + bench.graceUs);
      expect(onUs).toBeGreaterThan(100_000);
    },
  });
