import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { createRoll, rollLengthMm, rollOuterMmOf } from '../../src/roll/roll.ts';

const core12 = (rollOuterMm: number, paperUm: number) => ({ rollOuterMm, rollCoreMm: 12, paperUm });

describe('length of a roll', () => {
  // L = π(D² − d²)/(4t), the formula that paper converters publish; the table was calculated from it by hand.
  it.each([
    [30, 55, 10.8],
    [30, 60, 9.9],
    [30, 65, 9.1],
    [40, 55, 20.8],
    [40, 60, 19.1],
    [40, 65, 17.6],
    [50, 55, 33.6],
    [50, 60, 30.8],
    [50, 65, 28.5],
  ])('is right for %i mm of %i µm paper: %f m', (rollOuterMm, paperUm, metres) => {
    expect(rollLengthMm(core12(rollOuterMm, paperUm)) / 1000).toBeCloseTo(metres, 1);
  });

  it.each([
    [30, 116, 86],
    [40, 224, 165],
    [50, 362, 268],
  ])('gives the pictures of the table for %i mm at 60 µm: %i or %i', (rollOuterMm, short, long) => {
    // A picture of 70 or 100 mm and 15 mm beside it; a roll of 300 to 400 pictures is common practice, no source.
    const roll = createRoll(core12(rollOuterMm, 60));
    expect(roll.picturesLeft(70 + 15)).toBe(short);
    expect(roll.picturesLeft(100 + 15)).toBe(long);
  });

  it('is nothing on a bare core, and never less', () => {
    expect(rollLengthMm({ rollOuterMm: 12, rollCoreMm: 12, paperUm: 60 })).toBe(0);
    expect(rollLengthMm({ rollOuterMm: 12, rollCoreMm: 17.5, paperUm: 60 })).toBe(0);
  });

  it('and diameter are each other’s inverse', () => {
    fc.assert(
      fc.property(fc.double({ min: 13, max: 120, noNaN: true }), fc.integer({ min: 30, max: 150 }), (outer, um) => {
        const figures = core12(outer, um);
        expect(rollOuterMmOf(rollLengthMm(figures), figures)).toBeCloseTo(outer, 6);
      }),
    );
  });
});

describe('roll account', () => {
  const figures = core12(40, 60);
  const fullMm = rollLengthMm(figures);

  it('goes on from what was used before', () => {
    const roll = createRoll(figures, 5000);
    expect(roll.leftMm()).toBeCloseTo(fullMm - 5000, 6);
    roll.used(85);
    roll.used(-3);
    expect(roll.usedMm()).toBe(5082);
  });

  it('starts over with a new roll, and never goes below nothing or above full', () => {
    const roll = createRoll(figures);
    roll.used(fullMm + 300);
    expect(roll.leftMm()).toBe(0);
    expect(roll.picturesLeft(85)).toBe(0);
    roll.newRoll();
    roll.used(-50);
    expect(roll.leftMm()).toBe(fullMm);
    expect(createRoll(figures, -7).usedMm()).toBe(0);
  });

  it('counts no pictures of no length', () => {
    expect(createRoll(figures).picturesLeft(0)).toBe(0);
  });

  it('warns near the end, earlier for long pictures', () => {
    const roll = createRoll(figures, fullMm - 600);
    expect(roll.nearEnd(85)).toBe(false);
    expect(roll.nearEnd(125)).toBe(true);
    roll.used(101);
    expect(roll.nearEnd(85)).toBe(true);
  });
});
