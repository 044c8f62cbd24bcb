import type { Config } from '../config/schema.ts';

/** A time in which the coil was on, µs on the clock of `Clock.nowUs`. */
export interface Pulse {
  fromUs: number;
  toUs: number;
}

/** The part's own gate counts over the same time. */
const windowUs = 10_000_000;
/** The part counts by time as it passes, a timer's lateness included. */
const marginUs = 3000;

/** The pulses that still count at `nowUs`, and this one. */
export const withPulse = (pulses: readonly Pulse[], pulse: Pulse): readonly Pulse[] => [
  ...pulses.filter(({ toUs }) => toUs > pulse.fromUs - windowUs),
  pulse,
];

/**
 * How long after `nowUs` the coil must rest until its duty has room for the two strokes of a picture: a press that is
 * taken is answered and acknowledged, so one that couldn't be is refused instead. Microseconds; 0: it may now.
 */
export const dutyRestUs = (
  pulses: readonly Pulse[],
  nowUs: number,
  { dutyPercent, pulseMs }: Pick<Config['shutter'], 'dutyPercent' | 'pulseMs'>,
): number => {
  const roomUs = Math.max(0, (windowUs * dutyPercent) / 100 - 2 * (pulseMs * 1000 + marginUs));
  let atUs = nowUs;
  const onUs = () =>
    pulses.reduce((sum, { fromUs, toUs }) => sum + Math.max(0, toUs - Math.max(fromUs, atUs - windowUs)), 0);
  // Time on leaves the window only while a pulse crosses its beginning.
  for (const { fromUs, toUs } of pulses) {
    const overUs = onUs() - roomUs;
    if (overUs <= 0) break;
    atUs = Math.max(atUs, Math.min(toUs, Math.max(fromUs, atUs - windowUs) + overUs) + windowUs);
  }
  return atUs - nowUs;
};
