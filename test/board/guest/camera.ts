import { readdirSync, readFileSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import { describe, expect, it } from 'vitest';
import { processHost } from '../../../src/linux/inlet.ts';
import { createTiming } from '../../../src/linux/timing.ts';
import { openCapture } from '../../../src/linux/v4l2/capture.ts';
import { createWebcam } from '../../../src/linux/v4l2/webcam.ts';
import { watchFd } from '../../../src/linux/watch.ts';
import type { Frame, PixelFormat, Webcam, WebcamSaid } from '../../../src/parts/webcam.ts';
import { decodeJpegLuma } from '../../../src/picture/jpeg.ts';
import { webcamContract } from '../../contracts/webcam.ts';
import { runAll } from './suite.ts';
import { barCount, barLuma, barsAsJpeg, createUsbWebcam, usbWebcamDevice } from './usb-webcam.ts';
import { replugVivid, setVivid, unplugVivid, videoDevice } from './vivid.ts';

const framesPerSecond = 25;
/** The USB one's: a frame every tenth of a second is enough for an emulator. */
const usbFramesPerSecond = 10;
const asks = { widthPx: 640, heightPx: 360, framesPerSecond };
const wishes = { powerLineHz: 'auto', exposure: null, gain: null, focus: null } as const;

/** How long the event loop stood still for each opening and closing of the device, ms. */
const heldUpMs = { open: [] as number[], close: [] as number[] };
const timed = <T>(into: number[], act: () => T): T => {
  const beganUs = processHost.monotonicUs();
  const result = act();
  into.push((processHost.monotonicUs() - beganUs) / 1000);
  return result;
};

const makeWebcam = (
  format: 'auto' | PixelFormat,
  note = (_: string) => {},
  gain: number | null = null,
  device = videoDevice,
): Webcam =>
  createWebcam({
    open() {
      const capture = timed(heldUpMs.open, () =>
        openCapture({ device, wanted: { format, ...asks }, wishes: { ...wishes, gain }, note }),
      );
      return { ...capture, close: () => timed(heldUpMs.close, capture.close) };
    },
    timing: createTiming(),
    watchFd: (fd, ready) => watchFd(fd, 'in', ready, { everyMs: 5 }),
    fromMonotonicUs: stampUs => Math.round(stampUs),
    warmupFrames: 4,
    frameTimeoutMs: 2000,
  });

/** A webcam for the contract, and what lets it go however the case ended. */
const onBench = (webcam: Webcam) => {
  let close = () => {};
  return {
    close: () => close(),
    bench: {
      webcam: {
        open(heard: Parameters<Webcam['open']>[0]) {
          close = webcam.open(heard);
          return close;
        },
        watch: webcam.watch,
      },
      pass: (ms: number) => sleep(ms),
      nowUs: processHost.monotonicUs,
      graceUs: () => 60_000,
    },
  };
};

for (const format of ['YUYV', 'GREY'] as const)
  webcamContract(`V4L2, ${format}`, async () => {
    replugVivid();
    for (let tries = 0; tries < 50; tries++) {
      try {
        setVivid('Inject V4L2_BUF_FLAG_ERROR', 0);
        break;
      } catch {
        await sleep(100);
      }
    }
    const { bench, close } = onBench(makeWebcam(format));
    return {
      ...bench,
      framesPerSecond,
      unplug: unplugVivid,
      replug: replugVivid,
      spoil(spoilt) {
        setVivid('Percentage of Dropped Buffers', spoilt ? 60 : 0);
      },
      done() {
        close();
        replugVivid();
      },
    };
  });
const usbWebcam = createUsbWebcam({
  widthPx: asks.widthPx,
  heightPx: asks.heightPx,
  framesPerSecond: usbFramesPerSecond,
  jpegs: [true, false].map(tables => barsAsJpeg(asks.widthPx, asks.heightPx, tables)),
});

webcamContract('V4L2, MJPEG', async () => {
  usbWebcam.plug();
  await usbWebcam.untilThere();
  const { bench, close } = onBench(makeWebcam('MJPEG', undefined, null, usbWebcamDevice));
  return {
    ...bench,
    framesPerSecond: usbFramesPerSecond,
    unplug: usbWebcam.unplug,
    replug: usbWebcam.plug,
    spoil: usbWebcam.spoil,
    done() {
      close();
      usbWebcam.spoil(false);
      // It would cost what others are measured by.
      usbWebcam.unplug();
    },
  };
});

const untilTrue = async (there: () => boolean, ms = 20_000) => {
  for (let passed = 0; passed < ms && !there(); passed += 20) await sleep(20);
  expect(there()).toBe(true);
};

describe('webcam on the kernel’s virtual device', () => {
  const opened = async (format: 'auto' | PixelFormat, gain: number | null = null) => {
    replugVivid();
    const notes: string[] = [];
    const said: WebcamSaid[] = [];
    const webcam = makeWebcam(format, what => notes.push(what), gain);
    const close = webcam.open(what => said.push(what));
    await untilTrue(() => said.at(-1)?.kind === 'ready');
    return { webcam, said, notes, close };
  };
  const frameOf = async (webcam: Webcam): Promise<Frame> => {
    const frames: Frame[] = [];
    const stop = webcam.watch(frame => frames.push(frame));
    await untilTrue(() => frames.length > 1);
    stop();
    return frames[1];
  };
  const bars = (frame: Frame): number[] => {
    const step = frame.format === 'YUYV' ? 2 : 1;
    const row = (frame.heightPx / 2) * frame.strideBytes;
    return Array.from({ length: 8 }, (_, i) => frame.data[row + Math.round(((i + 0.5) * frame.widthPx) / 8) * step]);
  };

  it('gives the test picture: eight bars, brightest first, in the range it says', async () => {
    for (const format of ['YUYV', 'GREY'] as const) {
      const { webcam, close } = await opened(format);
      const frame = await frameOf(webcam);
      close();
      const levels = bars(frame);
      console.error(JSON.stringify({ format, range: frame.range, levels }));
      expect(levels).toHaveLength(8);
      expect(levels.every((level, i) => i === 0 || level < levels[i - 1] + 2)).toBe(true);
      // Bars of 75 % amplitude: white is 180 on the limited scale of ITU-R BT.601, black 16.
      const full = levels.map(level => (frame.range === 'limited' ? ((level - 16) * 255) / 219 : level));
      expect(Math.abs(full[0] - 191)).toBeLessThan(6);
      expect(Math.abs(full.at(-1)!)).toBeLessThan(6);
    }
  });

  it('hands on JPEGs of a USB webcam that hold its picture, with Huffman tables and without', async () => {
    usbWebcam.plug();
    await usbWebcam.untilThere();
    const webcam = makeWebcam('MJPEG', undefined, null, usbWebcamDevice);
    const said: WebcamSaid[] = [];
    const close = webcam.open(what => said.push(what));
    await untilTrue(() => said.at(-1)?.kind === 'ready');
    const frames: Frame[] = [];
    webcam.watch(frame => frames.push(frame));
    await untilTrue(() => frames.length >= 4);
    close();
    usbWebcam.unplug();
    console.error(JSON.stringify({ usbHeldUpMs: [heldUpMs.open.at(-1), heldUpMs.close.at(-1)] }));
    const tables = frames.map(({ data }) => Buffer.from(data).includes(Buffer.of(0xff, 0xc4)));
    expect([...new Set(tables)].sort()).toEqual([false, true]);
    for (const { data, format, widthPx, heightPx } of frames) {
      expect([format, widthPx, heightPx]).toEqual(['MJPEG', asks.widthPx, asks.heightPx]);
      const { data: luma } = decodeJpegLuma(data);
      const row = (heightPx / 2) * widthPx;
      const levels = Array.from(
        { length: barCount },
        (_, i) => luma[row + Math.round(((i + 0.5) * widthPx) / barCount)],
      );
      levels.forEach((level, i) => {
        expect(Math.abs(level - barLuma(i))).toBeLessThan(6);
      });
    }
  });

  it('lives through frames marked as damaged, with none of them handed on', async () => {
    const { webcam, said, close } = await opened('auto');
    const frames: Frame[] = [];
    webcam.watch(frame => frames.push(frame));
    setVivid('Inject V4L2_BUF_FLAG_ERROR', 1);
    await sleep(1000);
    setVivid('Inject V4L2_BUF_FLAG_ERROR', 0);
    const before = frames.length;
    await untilTrue(() => frames.length > before + 3);
    close();
    expect(said.map(({ kind }) => kind)).toEqual(['ready']);
    expect(frames.every(({ data }) => data.length > 0)).toBe(true);
  });

  it('comes back by itself from a fatal streaming error, errors of the stream’s start, and a disconnect', async () => {
    for (const [name, value] of [
      ['Inject Fatal Streaming Error', 1],
      ['Disconnect', 1],
    ] as const) {
      const { webcam, said, close } = await opened('auto');
      setVivid(name, value);
      await untilTrue(() => said.at(-1)?.kind === 'lost');
      if (name === 'Disconnect') {
        unplugVivid();
        await sleep(300);
        replugVivid();
      }
      await untilTrue(() => said.at(-1)?.kind === 'ready');
      expect((await frameOf(webcam)).data.length).toBeGreaterThan(0);
      close();
    }
    for (const name of ['Inject VIDIOC_STREAMON Error', 'Inject VIDIOC_REQBUFS Error', 'Inject VIDIOC_QBUF Error']) {
      setVivid(name, 1);
      const { webcam, close } = await opened('auto');
      expect((await frameOf(webcam)).data.length).toBeGreaterThan(0);
      close();
    }
  });

  it('sets a control, and says which it can’t', async () => {
    const { notes, close } = await opened('auto', 300);
    close();
    expect(notes.join()).toContain('gain');
  });

  it('costs next to nothing while nobody watches', async () => {
    const { webcam, close } = await opened('YUYV');
    const usedMs = async () => {
      await sleep(500);
      const before = process.cpuUsage();
      await sleep(5000);
      const { user, system } = process.cpuUsage(before);
      return (user + system) / 1000;
    };
    const idleMs = await usedMs();
    const unwatch = webcam.watch(() => {});
    const watchedMs = await usedMs();
    unwatch();
    close();
    console.error(JSON.stringify({ idleMs, watchedMs, idleCpuPercent: idleMs / 50 }));
    // A share of what every frame costs, on the same processor at the same time: how fast that is depends on the emulator's host.
    expect(idleMs).toBeLessThan(watchedMs / 3);
  });

  it('leaves no descriptor and no memory map behind, however often it is opened', async () => {
    const count = () => [
      readdirSync('/proc/self/fd').length,
      readFileSync('/proc/self/maps', 'utf8').split('video0').length,
    ];
    // What waits for a frame closes its own descriptor a moment later.
    const settled = async () => {
      await sleep(500);
      return count();
    };
    (await opened('auto')).close();
    const first = await settled();
    for (const times of Object.values(heldUpMs)) times.length = 0;
    for (let i = 0; i < 12; i++) {
      const { close } = await opened('auto');
      close();
    }
    expect(await settled()).toEqual(first);
    console.error(JSON.stringify({ heldUpMs }));
  });
});

await runAll(process.argv[2]);
process.exit(0);
