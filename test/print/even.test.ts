import { describe, expect, it } from 'vitest';
import { measureEvenness } from './evenness.ts';

describe('darkness down a strip', () => {
  it('stays within 5 % ink from top to bottom while the head warms, against more than 12 % without compensation', () => {
    const { firstInk, lastInk, headC } = measureEvenness();
    expect(headC).toBeGreaterThan(50);
    expect(Math.abs(lastInk / firstInk - 1)).toBeLessThan(0.05);
    expect(Math.abs(firstInk - 1)).toBeLessThan(0.05);
    const blind = measureEvenness({ blind: true });
    expect(Math.abs(blind.lastInk / blind.firstInk - 1)).toBeGreaterThan(0.12);
  });

  it.each([0, 0.3])('is not what the sag over %f Ω would leave of it', internalOhm => {
    const { firstInk, lastInk } = measureEvenness({ internalOhm });
    expect(Math.abs(firstInk - 1)).toBeLessThan(0.05);
    expect(Math.abs(lastInk / firstInk - 1)).toBeLessThan(0.05);
  });
});
