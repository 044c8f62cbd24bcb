import { expect } from 'vitest';
import type { Motor } from '../../src/parts/motor.ts';
import { contract, type Make, type Passing } from './make.ts';

/** What the part is made with in every bench. */
export const motorLimits = { deadMs: 20, travelMs: 600 };

export interface BridgeChange {
  atUs: number;
  side: 'in' | 'out';
  on: boolean;
}

export interface MotorBench extends Passing {
  motor: Motor;
  /** Each change of a side of the bridge, as the kernel or the virtual world saw it. */
  changes(): Promise<BridgeChange[]>;
}

const words = (changes: BridgeChange[]) => changes.map(({ side, on }) => `${side} ${on ? 'on' : 'off'}`);
const expectNeverBoth = (changes: BridgeChange[]) => {
  const on = new Set<string>();
  for (const change of changes) {
    if (change.on) on.add(change.side);
    else on.delete(change.side);
    expect(on.size).toBeLessThan(2);
  }
};

export const motorContract = (name: string, make: Make<MotorBench>): void =>
  contract('motor', name, make, {
    'drives one side and lets it go': async bench => {
      bench.motor.drive('in');
      await bench.pass(50);
      bench.motor.drive('off');
      await bench.pass(50);
      expect(words(await bench.changes())).toEqual(['in on', 'in off']);
    },
    'rests for the dead time before it reverses, never both sides on': async bench => {
      bench.motor.drive('in');
      await bench.pass(50);
      bench.motor.drive('out');
      await bench.pass(120);
      bench.motor.drive('in');
      await bench.pass(120);
      bench.motor.drive('off');
      await bench.pass(20);
      const changes = await bench.changes();
      expect(words(changes)).toEqual(['in on', 'in off', 'out on', 'out off', 'in on', 'in off']);
      expectNeverBoth(changes);
      for (const [off, on] of [
        [1, 2],
        [3, 4],
      ]) {
        const restUs = changes[on].atUs - changes[off].atUs;
        expect(restUs).toBeGreaterThanOrEqual(motorLimits.deadMs * 1000);
        expect(restUs).toBeLessThanOrEqual(motorLimits.deadMs * 1000 + bench.graceUs());
      }
    },
    'stops at the limit of its travel, also when it was let go between, until it is reversed': async bench => {
      bench.motor.drive('in');
      await bench.pass(200);
      bench.motor.drive('off');
      await bench.pass(30);
      bench.motor.drive('in');
      await bench.pass(1000);
      bench.motor.drive('off');
      bench.motor.drive('in');
      await bench.pass(100);
      const there = await bench.changes();
      expect(words(there)).toEqual(['in on', 'in off', 'in on', 'in off']);
      const drivenUs = there[1].atUs - there[0].atUs + there[3].atUs - there[2].atUs;
      expect(Math.abs(drivenUs - motorLimits.travelMs * 1000)).toBeLessThanOrEqual(bench.graceUs());
      bench.motor.drive('out');
      await bench.pass(1000);
      expect(words(await bench.changes()).slice(4)).toEqual(['out on', 'out off']);
    },
    'a direction that is taken back within the dead time never drives': async bench => {
      bench.motor.drive('in');
      await bench.pass(50);
      bench.motor.drive('out');
      bench.motor.drive('off');
      await bench.pass(100);
      expect(words(await bench.changes())).toEqual(['in on', 'in off']);
    },
  });
