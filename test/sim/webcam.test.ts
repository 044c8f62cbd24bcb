import { describe, expect, it } from 'vitest';
import { createCard } from '../../sim/card.ts';
import { createVirtualClock } from '../../sim/clock.ts';
import { createTraces } from '../../sim/traces.ts';
import type { Scene } from '../../sim/view.ts';
import { createVirtualWebcam, type WebcamFigures } from '../../sim/webcam.ts';
import type { Frame, WebcamSaid } from '../../src/parts/webcam.ts';
import { smallWebcam } from './webcam-figures.ts';

const setUp = (change: Partial<WebcamFigures> = {}, scene: Scene = createCard(), dark = 0) => {
  const clock = createVirtualClock();
  const traces = createTraces(clock.nowUs);
  const webcam = createVirtualWebcam(clock, traces, { ...smallWebcam, ...change }, scene, () => dark);
  const said: (WebcamSaid & { atUs: number })[] = [];
  const frames: (Frame & { atUs: number })[] = [];
  const close = webcam.open(what => said.push({ ...what, atUs: clock.nowUs() }));
  const watch = () =>
    webcam.watch(frame => {
      frames.push(Object.assign(Object.create(frame), { atUs: clock.nowUs() }));
    });
  return { clock, traces, webcam, said, frames, close, watch };
};

const grey = (luminance: number, noise = 0): Scene => ({
  noise,
  metered: true,
  brightness: () => luminance,
  look: (_atUs, _w, _h, into) => void into.fill(luminance),
});
const mean = (data: Uint8Array) => data.reduce((sum, v) => sum + v, 0) / data.length;
const spread = (data: Uint8Array) => Math.sqrt(data.reduce((sum, v) => sum + (v - mean(data)) ** 2, 0) / data.length);

describe('the virtual webcam', () => {
  it('is ready after warm-up, and frames come on its beat with stamps in order', () => {
    const { clock, said, frames, watch } = setUp();
    clock.runUntil(1_000_000);
    expect(said.map(({ kind }) => kind)).toEqual(['ready']);
    watch();
    clock.runUntil(2_000_000);
    expect(frames.length).toBeGreaterThanOrEqual(28);
    expect(frames.length).toBeLessThanOrEqual(31);
    for (const [i, frame] of frames.entries()) {
      expect(frame.exposureEndUs).toBeGreaterThan(frame.exposureStartUs);
      expect(frame.atUs).toBeGreaterThan(frame.exposureEndUs);
      if (i > 0) expect(frame.sequence).toBe(frames[i - 1].sequence + 1);
      if (i > 0) expect(frame.exposureStartUs - frames[i - 1].exposureStartUs).toBeCloseTo(1e6 / 30, -1);
    }
  });

  it('hands over frames that were exposed before the watch began: the reader must look at the stamps', () => {
    const { clock, frames, watch } = setUp();
    clock.runUntil(1_500_000);
    watch();
    clock.runUntil(1_700_000);
    expect(frames[0].exposureStartUs).toBeLessThan(1_500_000);
  });

  it('a queue gone stale gives old frames in a burst, then catches up', () => {
    const { clock, webcam, frames, watch } = setUp();
    clock.runUntil(1_000_000);
    watch();
    clock.runUntil(1_100_000);
    webcam.control.stale(4);
    frames.length = 0;
    clock.runUntil(1_600_000);
    const age = frames.map(({ atUs, exposureStartUs }) => atUs - exposureStartUs);
    expect(Math.max(...age)).toBeGreaterThan(4 * 33_000);
    expect(age.at(-1)).toBeLessThan(2.1 * 33_334);
  });

  it('is lost when it is unplugged and ready again after it comes back', () => {
    const { clock, webcam, said, frames, watch } = setUp();
    clock.runUntil(1_000_000);
    watch();
    webcam.control.unplug();
    clock.runUntil(3_000_000);
    expect(frames).toEqual([]);
    webcam.control.replug();
    clock.runUntil(5_000_000);
    expect(said.map(({ kind }) => kind)).toEqual(['ready', 'lost', 'ready']);
    expect(frames.length).toBeGreaterThan(10);
  });

  it('frozen, it counts as lost after the time-out', () => {
    const { clock, webcam, said } = setUp();
    clock.runUntil(1_000_000);
    webcam.control.freeze(true);
    clock.runUntil(2_900_000);
    expect(said).toHaveLength(1);
    clock.runUntil(3_100_000);
    expect(said.at(-1)).toMatchObject({ kind: 'lost', atUs: 3_000_000 });
    webcam.control.freeze(false);
    clock.runUntil(5_000_000);
    expect(said.at(-1)?.kind).toBe('ready');
  });

  it('drops frames, and the numbers show it', () => {
    const { clock, webcam, frames, watch } = setUp();
    clock.runUntil(1_000_000);
    watch();
    clock.runUntil(1_200_000);
    webcam.control.drop(3);
    clock.runUntil(1_600_000);
    const gaps = frames.slice(1).map((frame, i) => frame.sequence - frames[i].sequence);
    // Three periods hold three frames, or four with those that are in hand.
    expect(Math.max(...gaps)).toBeGreaterThanOrEqual(4);
    expect(Math.max(...gaps)).toBeLessThanOrEqual(6);
  });

  it('draws nothing that nobody looks at', () => {
    let drawn = 0;
    const counting: Scene = { ...createCard(), look: () => void drawn++ };
    const { clock, frames, watch } = setUp({}, counting);
    clock.runUntil(1_000_000);
    watch();
    clock.runUntil(3_000_000);
    expect(drawn).toBe(0);
    void frames[3].data;
    void frames[3].data;
    expect(drawn).toBe(1);
  });

  it.each([
    ['GREY', 64 * 48],
    ['YUYV', 64 * 48 * 2],
  ] as const)('%s frames have their size', (format, bytes) => {
    const { clock, frames, watch } = setUp({ format });
    clock.runUntil(1_000_000);
    watch();
    clock.runUntil(1_100_000);
    expect(frames[0].data).toHaveLength(bytes);
    expect(frames[0].strideBytes * 48).toBe(bytes);
  });

  it('exposure brings dim and bright light to middle grey', () => {
    // sRGB (IEC 61966-2-1): 18 % of light is code 118 (calculated).
    for (const luminance of [0.02, 0.18, 0.9]) {
      const { clock, frames, watch } = setUp({}, grey(luminance));
      clock.runUntil(1_000_000);
      watch();
      clock.runUntil(1_600_000);
      expect(Math.abs(mean(frames.at(-1)!.data) - 118)).toBeLessThan(2);
    }
  });

  it('less light is more noise', () => {
    const noiseAt = (luminance: number) => {
      const { clock, frames, watch } = setUp({}, grey(luminance, 1));
      clock.runUntil(1_000_000);
      watch();
      clock.runUntil(1_600_000);
      return spread(frames.at(-1)!.data);
    };
    expect(noiseAt(0.01)).toBeGreaterThan(2 * noiseAt(0.5));
  });

  it('blades before the lens spoil the frame visibly', () => {
    const at = (dark: number) => {
      const { clock, frames, watch } = setUp({}, grey(0.18), dark);
      clock.runUntil(1_000_000);
      watch();
      clock.runUntil(1_400_000);
      return mean(frames.at(-1)!.data);
    };
    expect(at(0.6)).toBeLessThan(0.8 * at(0));
  });
});
