import { expect } from 'vitest';
import type { Frame, Webcam, WebcamSaid } from '../../src/parts/webcam.ts';
import { contract, type Make, type Passing } from './make.ts';

export interface WebcamBench extends Passing {
  webcam: Webcam;
  framesPerSecond: number;
  unplug(): void;
  replug(): void;
  /** The stream stops without a word. */
  freeze?(frozen: boolean): void;
  /** The next frames are damaged in transfer, or never arrive; until `false`. */
  spoil(spoilt: boolean): void;
}

/** Lets time pass until `there`, at most `ms`. */
const until = async (bench: WebcamBench, there: () => boolean, ms = 20_000): Promise<void> => {
  for (let passed = 0; !there() && passed < ms; passed += 50) await bench.pass(50);
  expect(there()).toBe(true);
};
const openIt = async (bench: WebcamBench) => {
  const said: WebcamSaid[] = [];
  const stop = bench.webcam.open(what => said.push(what));
  const last = (kind: WebcamSaid['kind']) => () => said.at(-1)?.kind === kind;
  return { said, stop, ready: () => until(bench, last('ready')), lost: () => until(bench, last('lost')) };
};
const watchFor = async (bench: WebcamBench, count: number): Promise<Frame[]> => {
  const frames: Frame[] = [];
  const stop = bench.webcam.watch(frame => frames.push(frame));
  await until(bench, () => frames.length >= count);
  stop();
  return frames;
};
const leastBytes = ({ format, heightPx, strideBytes, widthPx }: Frame): number =>
  format === 'MJPEG' ? 100 : (heightPx - 1) * strideBytes + widthPx * (format === 'YUYV' ? 2 : 1);

export const webcamContract = (name: string, make: Make<WebcamBench>): void =>
  contract('webcam', name, make, {
    'says ready once, after its warm-up': async bench => {
      const { said, ready } = await openIt(bench);
      expect(said).toEqual([]);
      await ready();
      await bench.pass(500);
      expect(said).toEqual([{ kind: 'ready' }]);
    },
    'hands a watch whole frames that arrive from then on, in order': async bench => {
      const { ready } = await openIt(bench);
      await ready();
      // Time in which buffers go stale.
      await bench.pass(1000);
      const beganUs = bench.nowUs();
      const frames = await watchFor(bench, 6);
      const periodUs = 1e6 / bench.framesPerSecond;
      expect(frames[0].exposureEndUs).toBeGreaterThan(beganUs - 3 * periodUs - bench.graceUs());
      frames.forEach((frame, i) => {
        expect(frame.exposureEndUs).toBeGreaterThan(frame.exposureStartUs);
        expect(frame.exposureEndUs).toBeLessThanOrEqual(bench.nowUs());
        expect(frame.data.length).toBeGreaterThanOrEqual(leastBytes(frame));
        if (i === 0) return;
        expect(frame.sequence).toBeGreaterThan(frames[i - 1].sequence);
        const gapUs = frame.exposureStartUs - frames[i - 1].exposureStartUs;
        expect(gapUs).toBeGreaterThan(periodUs * 0.5 - bench.graceUs());
      });
    },
    'hands nothing to a watch that is undone': async bench => {
      const { ready } = await openIt(bench);
      await ready();
      const frames: Frame[] = [];
      const stop = bench.webcam.watch(frame => frames.push(frame));
      stop();
      stop();
      await bench.pass(500);
      expect(frames).toEqual([]);
    },
    'frames of two watches are the same': async bench => {
      const { ready } = await openIt(bench);
      await ready();
      const first: number[] = [];
      const second: number[] = [];
      bench.webcam.watch(({ sequence }) => first.push(sequence));
      bench.webcam.watch(({ sequence }) => second.push(sequence));
      await until(bench, () => first.length >= 3);
      expect(second).toEqual(first);
    },
    'leaves out frames that were spoilt, and goes on with the next good one': async bench => {
      const { said, ready } = await openIt(bench);
      await ready();
      bench.spoil(true);
      const frames: Frame[] = [];
      bench.webcam.watch(frame => frames.push(frame));
      await bench.pass(400);
      bench.spoil(false);
      const before = frames.length;
      await until(bench, () => frames.length > before + 2);
      expect(frames.every(frame => frame.data.length >= leastBytes(frame))).toBe(true);
      expect(said).toEqual([{ kind: 'ready' }]);
    },
    'says lost when it is unplugged and ready when it is back, by itself': async bench => {
      const { said, ready, lost } = await openIt(bench);
      await ready();
      bench.unplug();
      await lost();
      await bench.pass(1000);
      bench.replug();
      await ready();
      expect(said.map(({ kind }) => kind)).toEqual(['ready', 'lost', 'ready']);
      expect(await watchFor(bench, 2)).not.toEqual([]);
    },
    'says lost when it isn’t there at the start, and ready when it comes': async bench => {
      bench.unplug();
      const { said, ready, lost } = await openIt(bench);
      await lost();
      await bench.pass(1500);
      expect(said).toHaveLength(1);
      bench.replug();
      await ready();
      expect(said).toHaveLength(2);
    },
    'is silent once it is closed': async bench => {
      const { said, stop, ready } = await openIt(bench);
      await ready();
      const frames: Frame[] = [];
      bench.webcam.watch(frame => frames.push(frame));
      stop();
      stop();
      await bench.pass(500);
      expect(frames).toEqual([]);
      expect(said).toHaveLength(1);
    },
  });
