import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { dutyRestUs, type Pulse, withPulse } from '../../src/machine/duty.ts';
import { createDesk } from './desk.ts';

const windowUs = 10_000_000;
const onWithin = (pulses: readonly Pulse[], atUs: number) =>
  pulses.reduce((sum, { fromUs, toUs }) => sum + Math.max(0, toUs - Math.max(fromUs, atUs - windowUs)), 0);

describe('the duty of the coil', () => {
  it('rests as long as two strokes need, and not a moment longer', () => {
    const pulse = fc.record({
      gapUs: fc.integer({ min: 1, max: 2_000_000 }),
      onUs: fc.integer({ min: 1, max: 60_000 }),
    });
    fc.assert(
      fc.property(
        fc.array(pulse, { maxLength: 40 }),
        fc.integer({ min: 1, max: 50 }),
        fc.integer({ min: 5, max: 60 }),
        (drawn, dutyPercent, pulseMs) => {
          let nowUs = 0;
          let pulses: readonly Pulse[] = [];
          for (const { gapUs, onUs } of drawn) {
            pulses = withPulse(pulses, { fromUs: nowUs + gapUs, toUs: nowUs + gapUs + onUs });
            nowUs += gapUs + onUs;
          }
          const restUs = dutyRestUs(pulses, nowUs, { dutyPercent, pulseMs });
          const mostUs = Math.max(0, windowUs * (dutyPercent / 100) - 2 * pulseMs * 1000);
          expect(onWithin(pulses, nowUs + restUs)).toBeLessThanOrEqual(mostUs);
          if (restUs > 0) expect(onWithin(pulses, nowUs + restUs - 1)).toBeGreaterThan(mostUs - 7000);
        },
      ),
    );
  });

  it('refuses a press that could not be answered and acknowledged; every other one has both strokes', () => {
    const desk = createDesk({
      config: config => {
        Object.assign(config.shutter, { pulseMs: 40, lockoutMs: 0, dutyPercent: 5 });
        config.queue.longest = 50;
      },
    });
    for (let i = 0; i < 30; i++) {
      desk.press(20);
      desk.run(200);
    }
    desk.run(5000);
    const taken = desk.lines('press').length;
    expect(taken).toBeGreaterThan(4);
    expect(desk.lines('refused').length).toBe(30 - taken);
    expect(desk.seen.coil).toHaveLength(2 * taken);
    for (const { offUs } of desk.seen.coil)
      expect(
        onWithin(
          desk.seen.coil
            .map(({ onUs, offUs: toUs }) => ({ fromUs: onUs, toUs: toUs ?? 0 }))
            .filter(({ toUs }) => toUs <= (offUs ?? 0)),
          offUs ?? 0,
        ),
      ).toBeLessThanOrEqual(500_000);
  });
});
