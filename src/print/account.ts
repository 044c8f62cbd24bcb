import type { Profile } from '../config/profile.ts';
import type { Clock } from '../parts/clock.ts';
import { coolsInUs, warm, warmestK } from './head.ts';
import type { Run } from './runner.ts';

/** The head's temperature as the model follows it. */
export interface HeadAccount {
  /** Kelvin above ambient now. */
  aboveK(): number;
  /** From now on, heat comes from this run; null: from nothing. */
  heatedBy(run: Run | null): void;
  /** What a picture warmed the head by. */
  rose(byK: number): void;
  /** Until a picture like the last may begin, µs. */
  restUs(): number;
  /** Until a picture that would get as warm as `peakK`, begun now, may begin, µs. */
  waitUs(peakK: number): number;
}

/** Warming expected of the first picture, K. */
const firstRiseK = 5;
/** A head never waits for the last traces of warmth. */
const coolEnoughK = 1;

export const createHeadAccount = (clock: Clock, profile: Profile): HeadAccount => {
  const limitK = warmestK(profile);
  let nowK = 0;
  let untilUs = clock.nowUs();
  let riseK = firstRiseK;
  let source: Run | null = null;

  const add = (joules: number, us: number) => {
    nowK = warm(nowK, (joules * 1e6) / us, us, profile);
    untilUs += us;
  };
  const aboveK = () => {
    for (const { joules, us } of source?.spend() ?? []) add(joules, us);
    const idleUs = clock.nowUs() - untilUs;
    if (!source && idleUs > 0) add(0, idleUs);
    return nowK;
  };
  return {
    aboveK,
    heatedBy(run) {
      aboveK();
      source = run;
    },
    rose(byK) {
      riseK = Math.max(coolEnoughK, byK);
    },
    restUs: () => coolsInUs(aboveK(), Math.max(limitK * 0.2, limitK - riseK), profile),
    waitUs(peakK) {
      const fromK = aboveK();
      const tooWarmK = peakK - limitK;
      if (tooWarmK <= 0 || fromK <= coolEnoughK) return 0;
      return coolsInUs(fromK, Math.max(coolEnoughK, fromK - tooWarmK), profile);
    },
  };
};
