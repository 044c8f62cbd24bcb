import { expect } from 'vitest';
import { isFault } from '../../src/parts/fault.ts';
import type { Shutter } from '../../src/parts/shutter.ts';
import { contract, type Make, type Passing, stampGrainUs } from './make.ts';

/** What the part is made with in every bench. */
export const shutterLimits = { longestPulseMs: 150, dutyPercent: 4 };

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
      const grainUs = stampGrainUs(bench);
      const longestUs = shutterLimits.longestPulseMs * 1000;
      // On a busy host the limit can come before the release: then another pulse shows what the release does.
      for (let tries = 0; ; tries++) {
        expect(tries).toBeLessThan(5);
        const before = (await bench.pulses()).length;
        const calledUs = bench.nowUs();
        bench.shutter.energise();
        const drivenUs = bench.nowUs();
        await bench.pass(25);
        const releasedUs = bench.nowUs();
        bench.shutter.release();
        const endedUs = bench.nowUs();
        await bench.pass(20);
        const [pulse, ...more] = (await bench.pulses()).slice(before);
        expect(more).toEqual([]);
        expect(pulse.fromUs).toBeGreaterThanOrEqual(calledUs - grainUs);
        expect(pulse.fromUs).toBeLessThanOrEqual(drivenUs + grainUs);
        if (endedUs - calledUs >= longestUs) {
          await bench.pass(10_000);
          continue;
        }
        expect(pulse.toUs).toBeGreaterThanOrEqual(releasedUs - grainUs);
        expect(pulse.toUs).toBeLessThanOrEqual(endedUs + grainUs);
        break;
      }
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
      const longestUs = shutterLimits.longestPulseMs * 1000;
      const calledUs = bench.nowUs();
      bench.shutter.energise();
      await bench.pass(300);
      const [{ fromUs, toUs }, ...more] = await bench.pulses();
      expect(more).toEqual([]);
      // The limit counts from before the line is driven.
      expect(toUs).toBeGreaterThanOrEqual(calledUs + longestUs - stampGrainUs(bench));
      expect(toUs).toBeLessThanOrEqual(fromUs + longestUs + bench.graceUs());
    },
    'refuses a pulse beyond its duty, as a fault of a part': async bench => {
      const refused: unknown[] = [];
      // 4 % of ten seconds are 400 ms.
      for (let i = 0; i < 14; i++) {
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
      expect(onUs).toBeLessThanOrEqual(400_000 + bench.graceUs());
      expect(onUs).toBeGreaterThan(200_000);
    },
  });
