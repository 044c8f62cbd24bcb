import type { Frame } from '../parts/webcam.ts';

/** A time in which blades cross the lens, µs on the clock of `Clock.nowUs`. */
export interface Crossing {
  fromUs: number;
  toUs: number;
}

/**
 * Whether a frame shows what the finger meant: its exposure began at or after `notBeforeUs` (the press), and no blades
 * crossed the lens while it lasted. Judged by stamps alone: a frame may arrive late, or from a queue that had gone stale.
 */
export const isFit = (
  { exposureStartUs, exposureEndUs }: Pick<Frame, 'exposureStartUs' | 'exposureEndUs'>,
  notBeforeUs: number,
  crossings: readonly Crossing[],
): boolean =>
  exposureStartUs >= notBeforeUs &&
  crossings.every(({ fromUs, toUs }) => exposureEndUs <= fromUs || exposureStartUs >= toUs);
