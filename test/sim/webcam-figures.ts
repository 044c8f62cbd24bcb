import type { WebcamFigures } from '../../sim/webcam.ts';

/** A webcam of small frames, so that tests are quick. */
export const smallWebcam: WebcamFigures = {
  format: 'GREY',
  widthPx: 64,
  heightPx: 48,
  framesPerSecond: 30,
  warmupFrames: 8,
  frameTimeoutMs: 2000,
  huffmanTables: true,
  seed: 1,
  turn: 0,
  traceEveryFrame: false,
};
