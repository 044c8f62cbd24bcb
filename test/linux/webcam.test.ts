import { describe, expect, it } from 'vitest';
import { createVirtualClock } from '../../sim/clock.ts';
import { createWebcam } from '../../src/linux/v4l2/webcam.ts';
import type { Frame, WebcamSaid } from '../../src/parts/webcam.ts';
import { webcamContract } from '../contracts/webcam.ts';
import { createCaptureModel } from './capture-model.ts';

const framesPerSecond = 30;
const periodUs = 1e6 / framesPerSecond;

const setUp = () => {
  const clock = createVirtualClock();
  // A board that has been up for a while.
  clock.runUntil(60_000_000);
  const device = createCaptureModel(clock, framesPerSecond);
  const webcam = createWebcam({
    open: device.open,
    timing: clock,
    watchFd: device.watchFd,
    fromMonotonicUs: stampUs => stampUs,
    warmupFrames: 8,
    frameTimeoutMs: 2000,
  });
  const pass = (ms: number) => clock.runUntil(clock.nowUs() + ms * 1000);
  return { clock, device, webcam, pass };
};
const opened = () => {
  const bench = setUp();
  const said: WebcamSaid[] = [];
  bench.webcam.open(what => said.push(what));
  bench.pass(1000);
  return { ...bench, said };
};

webcamContract('by V4L2, over a model of the device', () => {
  const { clock, device, webcam, pass } = setUp();
  return {
    webcam,
    framesPerSecond,
    pass: async ms => pass(ms),
    nowUs: clock.nowUs,
    graceUs: () => 0,
    done() {},
    unplug: device.unplug,
    replug: device.replug,
    spoil(spoilt) {
      device.model.damaged = spoilt;
    },
  };
});

describe('the webcam by V4L2', () => {
  it('is woken for no frame while nobody watches', () => {
    const { device, pass, said } = opened();
    expect(said).toEqual([{ kind: 'ready' }]);
    const before = device.model.wakes;
    pass(60_000);
    expect(device.model.wakes).toBe(before);
    expect(said).toHaveLength(1);
  });

  it('notices an unplug while nobody watches', () => {
    const { device, pass, said } = opened();
    device.model.plugged = false;
    pass(250);
    expect(said.at(-1)).toEqual({ kind: 'lost', why: 'the webcam is gone (ENODEV)' });
  });

  it('says lost when frames stop, and opens it again', () => {
    const { device, pass, said } = opened();
    device.model.silent = true;
    pass(2500);
    expect(said.at(-1)).toEqual({ kind: 'lost', why: 'no frame for 2000 ms' });
    device.model.silent = false;
    pass(3500);
    expect(said.at(-1)).toEqual({ kind: 'ready' });
    expect(device.model.opened).toBeGreaterThan(1);
  });

  it('says the same reason once, however often it tries', () => {
    const { device, webcam, pass } = setUp();
    device.model.plugged = false;
    const said: WebcamSaid[] = [];
    webcam.open(what => said.push(what));
    pass(10_000);
    expect(said).toEqual([{ kind: 'lost', why: 'webcam: /dev/video0 isn’t there (plug it in)' }]);
  });

  it('lets frames go until eight whole ones have come', () => {
    const { device, webcam, pass } = setUp();
    device.model.short = true;
    const said: WebcamSaid[] = [];
    webcam.open(what => said.push(what));
    pass(1000);
    expect(said).toEqual([]);
    device.model.short = false;
    pass(290);
    expect(said).toEqual([]);
    pass(20);
    expect(said).toEqual([{ kind: 'ready' }]);
  });

  it('copies a frame: the buffer is the webcam’s again', () => {
    const { webcam, pass } = opened();
    const frames: Frame[] = [];
    webcam.watch(frame => frames.push(frame));
    pass(1000);
    expect(frames.length).toBeGreaterThan(20);
    expect(frames.every(({ data, sequence }) => data.every(byte => byte === (sequence & 255)))).toBe(true);
  });

  it('takes a stamp at the start of exposure as it is, and reckons back from one at the end', () => {
    const { device, webcam, pass, clock } = opened();
    const frames: { frame: Frame; atUs: number }[] = [];
    webcam.watch(frame => frames.push({ frame, atUs: clock.nowUs() }));
    pass(100);
    const start = frames.at(-1)!;
    expect(start.frame.exposureStartUs).toBe(Math.round(start.atUs - 1.5 * periodUs));
    device.model.stampedAtStart = false;
    pass(100);
    const end = frames.at(-1)!;
    expect(end.frame.exposureEndUs).toBe(Math.round(end.atUs));
    expect(end.atUs - end.frame.exposureStartUs).toBeGreaterThanOrEqual(2 * periodUs - 2);
  });

  it('doesn’t count as lost after a stall of the event loop: the buffers are looked at first', () => {
    const { clock, device, pass } = setUp();
    // Nothing wakes the program for five seconds, then its timers do.
    const stalled = createWebcam({
      open: device.open,
      timing: { nowUs: clock.nowUs, after: (us, due) => clock.after(us > 100_000 ? us + 5_000_000 : us, due) },
      watchFd: () => () => {},
      fromMonotonicUs: stampUs => stampUs,
      warmupFrames: 0,
      frameTimeoutMs: 2000,
    });
    const said: WebcamSaid[] = [];
    stalled.open(what => said.push(what));
    pass(20_000);
    expect(said).toEqual([{ kind: 'ready' }]);
  });
});
