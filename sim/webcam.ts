import type { Clock, Undo } from '../src/parts/clock.ts';
import type { Frame, PixelFormat, Webcam, WebcamSaid } from '../src/parts/webcam.ts';
import { createSensor } from './sensor.ts';
import type { Traces } from './traces.ts';
import type { Scene } from './view.ts';

export interface WebcamFigures {
  format: PixelFormat;
  widthPx: number;
  heightPx: number;
  framesPerSecond: number;
  /** Frames let go before `ready`. */
  warmupFrames: number;
  /** Without a frame for this long the part says `lost`. */
  frameTimeoutMs: number;
  /** MJPEG frames with Huffman tables, or without as some webcams send them. */
  huffmanTables: boolean;
  seed: number;
  turn: 0 | 90 | 180 | 270;
  /** Count every frame on the `frame` trace, or only those of a watch (for long runs). */
  traceEveryFrame: boolean;
}

export interface WebcamControl {
  scene(scene: Scene): void;
  unplug(why?: string): void;
  replug(): void;
  /** What is exposed for the next `frames` periods never arrives. */
  drop(frames: number): void;
  /** A reader that was late: this many frames lie in the queue, older than they seem. */
  stale(frames: number): void;
  /** The stream stops without a word, until `false` or a replug. */
  freeze(frozen: boolean): void;
  /** The next `frames` frames are cut short in transfer. */
  tear(frames: number): void;
  readonly plugged: boolean;
}

export interface VirtualWebcam extends Webcam {
  control: WebcamControl;
  /** The program that had it open is gone. */
  powerOff(): void;
}

/** From open to the first frame, from plugging in to being found, and from the end of exposure to arrival. */
const openUs = 350_000;
const findUs = 400_000;
const transferFrames = 0.9;

/**
 * A webcam that streams whether or not anybody looks: frames begin on a fixed beat, their exposure follows the light,
 * they arrive about a frame later. A picture is only rendered when its bytes are touched.
 */
export const createVirtualWebcam = (
  clock: Clock,
  traces: Traces,
  figures: WebcamFigures,
  firstScene: Scene,
  crossing: (fromUs: number, toUs: number) => number,
): VirtualWebcam => {
  const periodUs = 1e6 / figures.framesPerSecond;
  const watchers = new Set<(frame: Frame) => void>();
  const sensor = createSensor(figures);
  let scene = firstScene;
  let heardBy: ((said: WebcamSaid) => void) | null = null;
  let plugged = true;
  let frozen = false;
  let streaming = false;
  /** Frame 0 of the stream begins here; the sequence number of a frame counts from it. */
  let streamUs = 0;
  let next = 0;
  let droppingUntilUs = 0;
  let tearing = 0;
  let backlog = 0;
  let stopTick: Undo | null = null;
  let stopWaiting: Undo = () => {};

  const exposureAt = (startUs: number) => sensor.expose(scene.brightness(startUs), periodUs);
  const arrivalDelayUs = (exposureUs: number) => exposureUs + (transferFrames + backlog) * periodUs;

  const deliver = (sequence: number, startUs: number, exposureUs: number) => {
    const endUs = Math.round(startUs + exposureUs);
    const exposureStartUs = Math.round(startUs);
    const lookedAt = scene;
    const { gain } = sensor.setting();
    let data: Uint8Array | null = null;
    const dark = crossing(exposureStartUs, endUs);
    const frame: Frame = {
      sequence,
      exposureStartUs,
      exposureEndUs: endUs,
      format: figures.format,
      widthPx: figures.widthPx,
      heightPx: figures.heightPx,
      strideBytes: figures.format === 'MJPEG' ? 0 : figures.widthPx * (figures.format === 'YUYV' ? 2 : 1),
      range: figures.format === 'YUYV' ? 'limited' : 'full',
      // Touched by few: a picture that nobody looks at is never drawn.
      get data() {
        data ??= sensor.develop(lookedAt, (exposureStartUs + endUs) / 2, gain, dark, sequence);
        return data;
      },
    };
    traces.record('frame', sequence);
    for (const heard of watchers) heard(frame);
  };

  const wanted = () => streaming && !frozen && (watchers.size > 0 || figures.traceEveryFrame);
  const tick = () => {
    stopTick = null;
    if (!wanted()) return;
    // The first frame that can still arrive from now on; frames that went by unwatched are only counted.
    const behindUs = arrivalDelayUs(0);
    next = Math.max(next, Math.ceil((clock.nowUs() - behindUs - streamUs) / periodUs));
    const sequence = next++;
    const startUs = streamUs + sequence * periodUs;
    const exposureUs = exposureAt(startUs);
    stopTick = clock.after(startUs + arrivalDelayUs(exposureUs) - clock.nowUs(), () => {
      // Raw pixels cut short are seen by their length, a JPEG by the lack of its end.
      const short = tearing > 0;
      if (short) tearing--;
      if (!short && startUs >= droppingUntilUs) deliver(sequence, startUs, exposureUs);
      if (backlog > 0) backlog--;
      tick();
    });
  };
  const beat = () => {
    if (stopTick === null) tick();
  };
  const halt = () => {
    stopTick?.();
    stopTick = null;
  };

  const start = (delayUs: number) => {
    stopWaiting();
    if (!heardBy || !plugged || frozen) return;
    stopWaiting = clock.after(delayUs, () => {
      streaming = true;
      streamUs = clock.nowUs();
      next = 0;
      sensor.forget();
      beat();
      stopWaiting = clock.after((figures.warmupFrames + transferFrames) * periodUs, () => {
        sensor.settle(scene.brightness(clock.nowUs()), periodUs);
        heardBy?.({ kind: 'ready' });
      });
    });
  };
  const stop = () => {
    stopWaiting();
    halt();
    streaming = false;
  };
  const lose = (why: string) => {
    const told = streaming;
    stop();
    if (told) heardBy?.({ kind: 'lost', why });
  };

  return {
    open(heard) {
      heardBy = heard;
      if (plugged) start(openUs);
      else stopWaiting = clock.after(openUs, () => heardBy?.({ kind: 'lost', why: 'no webcam is plugged in' }));
      return () => {
        if (heardBy !== heard) return;
        heardBy = null;
        stop();
      };
    },
    watch(heard) {
      watchers.add(heard);
      beat();
      return () => void watchers.delete(heard);
    },
    powerOff() {
      heardBy = null;
      watchers.clear();
      stop();
    },
    control: {
      scene(now) {
        scene = now;
      },
      unplug(why = 'the webcam was unplugged') {
        if (!plugged) return;
        plugged = false;
        lose(why);
      },
      replug() {
        if (plugged) return;
        plugged = true;
        frozen = false;
        start(findUs + openUs);
      },
      drop(frames) {
        droppingUntilUs = clock.nowUs() + frames * periodUs;
      },
      stale(frames) {
        backlog = frames;
        halt();
        beat();
      },
      freeze(now) {
        if (now === frozen) return;
        frozen = now;
        if (!frozen) return start(openUs);
        halt();
        if (streaming) {
          stopWaiting();
          stopWaiting = clock.after(figures.frameTimeoutMs * 1000, () =>
            lose(`no frame for ${figures.frameTimeoutMs} ms`),
          );
        }
      },
      tear(frames) {
        tearing = frames;
      },
      get plugged() {
        return plugged;
      },
    },
  };
};
