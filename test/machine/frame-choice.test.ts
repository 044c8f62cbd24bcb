import { describe, expect, it } from 'vitest';
import { isFit } from '../../src/machine/frame-choice.ts';

const frame = (fromMs: number, toMs: number) => ({ exposureStartUs: fromMs * 1000, exposureEndUs: toMs * 1000 });
const blades = (fromMs: number, toMs: number) => ({ fromUs: fromMs * 1000, toUs: toMs * 1000 });

describe('the frame that is chosen', () => {
  // A press at 100 ms; the coil is on from 130 to 155 ms (it had to wait for the head), blades clear at 175 ms.
  const press = 100_000;
  const crossings = [blades(130, 175)];
  it.each([
    ['began before the press', frame(90, 110), false],
    ['began before the press, ended after everything', frame(99, 300), false],
    ['began with the press, over before the blades', frame(100, 120), true],
    ['over at the very moment the blades come', frame(110, 130), true],
    ['the blades come in its end', frame(110, 131), false],
    ['within the blades’ time', frame(140, 150), false],
    ['the blades leave in its beginning', frame(174, 184), false],
    ['begins at the very moment the blades are gone', frame(175, 185), true],
    ['longer than the blades’ time and around it', frame(101, 400), false],
    ['long after', frame(900, 930), true],
  ])('%s', (_, candidate, fit) => {
    expect(isFit(candidate, press, crossings)).toBe(fit);
  });

  it('without blades, the first that began after the press', () => {
    expect(isFit(frame(100, 110), press, [])).toBe(true);
    expect(isFit(frame(99.999, 110), press, [])).toBe(false);
  });

  it('the second stroke of the picture before spoils it too', () => {
    const earlier = [blades(60, 120), blades(130, 175)];
    expect(isFit(frame(100, 110), press, earlier)).toBe(false);
    expect(isFit(frame(120, 130), press, earlier)).toBe(true);
  });
});
