import type { Undo } from '../../parts/clock.ts';
import { isFault } from '../../parts/fault.ts';
import type { Frame, Webcam, WebcamSaid } from '../../parts/webcam.ts';
import { codeOf } from '../native.ts';
import type { Timing } from '../timing.ts';
import type { Capture } from './capture.ts';
import type { BufferState } from './uapi.ts';
import { looksWhole } from './whole.ts';

export interface WebcamOptions {
  /** Opens the device and starts it; throws what is the matter. */
  open(): Capture;
  timing: Timing;
  /** Calls `ready` when a buffer is full or the device is gone. */
  watchFd(fd: number, ready: () => void): Undo;
  fromMonotonicUs(stampUs: number): number;
  /** Frames let go before `ready`. */
  warmupFrames: number;
  /** Without a frame for this long the webcam counts as lost. */
  frameTimeoutMs: number;
}

/** Between looks at a webcam that nobody watches, and between tries to open one that is gone. */
const idleLookUs = 200_000;
const reopenUs = 500_000;

const reasonOf = (error: unknown): string => {
  if (isFault(error)) return error.mend ? `${error.message} (${error.mend})` : error.message;
  const code = codeOf(error);
  return code === 'ENODEV' || code === 'EIO'
    ? `the webcam is gone (${code})`
    : String((error as Error).message ?? error);
};

/**
 * A webcam that streams all the time, for its exposure to follow the light. While nobody watches, its buffers lie full
 * and are only turned over now and then, which costs next to nothing; during a watch every frame is fetched as it comes.
 */
export const createWebcam = (options: WebcamOptions): Webcam => {
  const { timing } = options;
  const watchers = new Set<(frame: Frame) => void>();
  let heardBy: ((said: WebcamSaid) => void) | null = null;
  let capture: Capture | null = null;
  let told: WebcamSaid['kind'] | null = null;
  let warming = 0;
  let lastFrameUs = 0;
  let endsMarked = false;
  let stopEvents: Undo | null = null;
  let stopTimer: Undo = () => {};

  const stop = () => {
    stopTimer();
    stopEvents?.();
    stopEvents = null;
    capture?.close();
    capture = null;
  };
  const lose = (why: string) => {
    stop();
    if (!heardBy) return;
    stopTimer = timing.after(reopenUs, open);
    // Once an outage: later tries mostly fail for another reason.
    if (told === 'lost') return;
    told = 'lost';
    heardBy({ kind: 'lost', why });
  };

  const frameOf = (from: Capture, buffer: BufferState): Frame => {
    const { format, widthPx, heightPx, strideBytes, range } = from;
    const periodUs = Math.round(1e6 / from.framesPerSecond);
    const exposureUs = Math.min(from.exposureUs ?? periodUs, periodUs);
    const nowUs = options.fromMonotonicUs(timing.nowUs());
    // A driver that reckons its stamps may be ahead of the time.
    const stampUs = buffer.monotonic ? Math.min(options.fromMonotonicUs(buffer.stampUs), nowUs) : nowUs;
    // Rows are exposed one after another: up to a period lies between the first and the last. Where only the end is
    // stamped the beginning is put as early as it can have been.
    const startUs = buffer.stampedAtStart ? stampUs : Math.max(0, stampUs - periodUs - exposureUs);
    return {
      sequence: buffer.sequence,
      exposureStartUs: startUs,
      exposureEndUs: buffer.stampedAtStart ? Math.min(startUs + exposureUs + periodUs, nowUs) : stampUs,
      format,
      widthPx,
      heightPx,
      strideBytes,
      range,
      data: from.bytes(buffer).slice(),
    };
  };
  const isWhole = (from: Capture, buffer: BufferState): boolean => {
    if (buffer.damaged) return false;
    const { whole, marked } = looksWhole(from, from.bytes(buffer), endsMarked);
    endsMarked ||= marked;
    return whole;
  };

  /** Takes every full buffer; says whether the webcam is still there. */
  const turnOver = (deliver: boolean): boolean => {
    const from = capture;
    if (!from) return false;
    const frames: Frame[] = [];
    try {
      for (let buffer = from.dequeue(); buffer; buffer = from.dequeue()) {
        lastFrameUs = timing.nowUs();
        if (warming > 0 || deliver) {
          const whole = isWhole(from, buffer);
          if (whole && warming > 0) warming--;
          if (whole && deliver) frames.push(frameOf(from, buffer));
        }
        from.enqueue(buffer);
      }
    } catch (error) {
      lose(reasonOf(error));
      return false;
    }
    for (const frame of frames) for (const heard of watchers) heard(frame);
    return true;
  };
  const isLate = (): boolean => {
    if (timing.nowUs() - lastFrameUs < options.frameTimeoutMs * 1000) return false;
    lose(`no frame for ${options.frameTimeoutMs} ms`);
    return true;
  };
  const arrived = () => {
    const warmed = warming === 0;
    if (!turnOver(true) || warmed || warming > 0) return;
    told = 'ready';
    heardBy?.({ kind: 'ready' });
    settle();
  };
  /** Waits for each frame, or looks now and then: whichever is needed. */
  const settle = () => {
    if (!capture) return;
    const attentive = watchers.size > 0 || warming > 0;
    if (attentive && !stopEvents) stopEvents = options.watchFd(capture.fd, arrived);
    if (!attentive && stopEvents) {
      stopEvents();
      stopEvents = null;
    }
  };
  const look = () => {
    // Also in a watch: after a stall of the event loop its timers come before the buffers that lie there full.
    if (stopEvents) arrived();
    else turnOver(false);
    if (capture && !isLate()) stopTimer = timing.after(idleLookUs, look);
  };

  const open = () => {
    try {
      capture = options.open();
    } catch (error) {
      lose(reasonOf(error));
      return;
    }
    warming = options.warmupFrames + 1;
    lastFrameUs = timing.nowUs();
    settle();
    stopTimer = timing.after(idleLookUs, look);
  };

  return {
    open(heard) {
      heardBy = heard;
      told = null;
      stopTimer = timing.after(0, open);
      return () => {
        if (heardBy !== heard) return;
        heardBy = null;
        stop();
      };
    },
    watch(heard) {
      // What lies in the buffers is older than the watch.
      if (watchers.size === 0 && capture && warming === 0) turnOver(false);
      watchers.add(heard);
      settle();
      return () => {
        watchers.delete(heard);
        settle();
      };
    },
  };
};
