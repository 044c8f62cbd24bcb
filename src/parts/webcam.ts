import type { Undo } from './clock.ts';

export type PixelFormat = 'YUYV' | 'GREY' | 'MJPEG';

/** One frame as the webcam gave it. Stamps in microseconds on the clock of `Clock.nowUs`. */
export interface Frame {
  sequence: number;
  exposureStartUs: number;
  exposureEndUs: number;
  format: PixelFormat;
  widthPx: number;
  heightPx: number;
  /** Bytes from one row to the next; 0 for MJPEG. */
  strideBytes: number;
  /** Luma range: 'limited' is 16…235 (ITU-R BT.601), 'full' is 0…255. */
  range: 'limited' | 'full';
  data: Uint8Array;
}

export type WebcamSaid = { kind: 'ready' } | { kind: 'lost'; why: string };

export interface Webcam {
  /** Streams until undone: says `ready` after warm-up and again after each return, `lost` when it is gone; reopens by itself. */
  open(heard: (said: WebcamSaid) => void): Undo;
  /** Hands over every whole frame that arrives from now on. Outside a watch only the freshest frame is kept. */
  watch(heard: (frame: Frame) => void): Undo;
}
