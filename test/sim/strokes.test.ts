import { describe, expect, it } from 'vitest';
import { readStrokes, settledPresses, spansOf } from '../../sim/strokes.ts';

const press = (closedMs: number) => ({ closedUs: closedMs * 1000, settledUs: (closedMs + 8) * 1000 });
const strokes = (...ms: number[]) => ms.map(at => ({ atUs: at * 1000, sounded: true }));
const never = () => false;

describe('reading a coil', () => {
  it('takes the stroke after a settled contact for the first, the next for the second', () => {
    const { shots, stray } = readStrokes(strokes(108, 300, 1008, 1150), [press(100), press(1000)], never);
    expect(stray).toEqual([]);
    expect(shots.map(({ firstUs, secondUs, sure }) => [firstUs / 1000, secondUs! / 1000, sure])).toEqual([
      [108, 300, true],
      [1008, 1150, true],
    ]);
  });

  it('a picture without a second stroke isn’t acknowledged, nor is one whose second nobody heard', () => {
    const silent = [{ atUs: 2_200_000, sounded: false }];
    const { shots } = readStrokes(
      [...strokes(108, 1008, 1150, 2008), ...silent],
      [press(100), press(1000), press(2000)],
      never,
    );
    expect(shots.map(({ secondUs }) => secondUs)).toEqual([null, 1_150_000, null]);
  });

  it('a press that was refused doesn’t matter', () => {
    const { shots } = readStrokes(strokes(108, 300), [press(100), press(200)], never);
    expect(shots.map(({ press: { closedUs }, secondUs }) => [closedUs, secondUs])).toEqual([[100_000, 300_000]]);
  });

  it('a stroke that answers nothing is stray', () => {
    expect(readStrokes(strokes(50, 108, 300, 400), [press(100)], never).stray).toEqual([50_000, 400_000]);
  });

  it('a first stroke may be late where something held it up', () => {
    const held = readStrokes(strokes(150, 300), [press(100)], () => true);
    expect(held.stray).toEqual([]);
    expect(held.shots).toHaveLength(1);
    expect(readStrokes(strokes(150), [press(100)], never).stray).toEqual([150_000]);
  });

  it('only a contact that stays closed counts as press', () => {
    const contact = [
      { atUs: 0, value: 1 },
      { atUs: 7_000, value: 0 },
      { atUs: 7_100, value: 1 },
      { atUs: 90_000, value: 0 },
    ];
    expect(settledPresses(contact, 8000, 100_000)).toEqual([{ closedUs: 7_100, settledUs: 15_100 }]);
    expect(spansOf([{ atUs: 5, value: 1 }], 9)).toEqual([{ fromUs: 5, toUs: 9 }]);
  });
});
