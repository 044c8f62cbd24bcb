import type { LampPattern } from '../parts/lamp.ts';
import { type Context, type WaitingReason, waitingReasons } from './context.ts';
import type { States } from './states.ts';

export interface Signals {
  lamp: LampPattern;
  motor: 'racking' | 'still';
}

export type SignalFacts = Pick<Context, 'condition' | 'supplyLow' | 'rollLow'>;

/** `count` short flashes and a pause. */
const flashes = (count: number): number[] => [
  ...Array.from({ length: 2 * count - 1 }, (_, i) => (i % 2 === 0 ? 140 : 180)),
  1100,
];

/**
 * The lamp's language, on and off in milliseconds. Steady: press. Dark for a moment: a picture is being taken. Even
 * blinking: wait, it works. Counted flashes: something is needed, and the count says what.
 */
export const patterns = {
  ready: [Number.POSITIVE_INFINITY],
  'near-end': [1700, 120, 120, 120],
  taking: [],
  working: [500, 500],
  resting: [2000, 2000],
  warming: [100, 900],
  refused: [60, 60],
  missed: [350, 120],
  unkept: [700, 100, 100, 100],
  blind: [900, 100],
  'paper-out': flashes(2),
  'lid-open': flashes(3),
  'head-hot': flashes(4),
  'supply-low': flashes(5),
  lost: flashes(6),
  'off-line': flashes(7),
  pausing: [300, 300],
  loading: [250, 250, 250, 750],
  closing: [1500, 500],
  closed: [],
} as const satisfies Record<string, readonly number[]>;

export type PatternName = keyof typeof patterns;

const named = Object.fromEntries(
  Object.entries(patterns).map(([name, stepsMs]) => [name, { name, stepsMs }]),
) as unknown as Record<PatternName, LampPattern>;

const among = (state: string, names: readonly string[]): boolean => names.includes(state.split('.', 1)[0]);

interface Row {
  shows: PatternName | ((facts: SignalFacts) => PatternName);
  when(states: States, facts: SignalFacts): boolean;
}

const gravest = (facts: SignalFacts): WaitingReason | undefined => waitingReasons(facts)[0];

/** First row that holds, from what the person must know at once to what is merely so. */
const rows: readonly Row[] = [
  { shows: 'closed', when: ({ service }) => service === 'closed' },
  { shows: 'closing', when: ({ service }) => service === 'closing' },
  { shows: 'unkept', when: ({ notice }) => notice === 'unkept' },
  { shows: 'missed', when: ({ notice }) => notice === 'missed' },
  { shows: 'refused', when: ({ notice }) => notice === 'refused' },
  { shows: 'taking', when: ({ exposure }) => among(exposure, ['firing', 'grabbing', 'keeping', 'answering']) },
  { shows: 'loading', when: ({ service }) => among(service, ['loading']) },
  { shows: 'warming', when: ({ exposure }) => exposure === 'warming' },
  { shows: 'blind', when: ({ exposure }) => exposure === 'blind' },
  {
    shows: facts => gravest(facts) ?? 'pausing',
    when: ({ output }, facts) => among(output, ['idle', 'waiting']) && gravest(facts) !== undefined,
  },
  { shows: 'pausing', when: ({ output }) => among(output, ['waiting']) },
  { shows: 'resting', when: ({ output }) => output === 'resting' },
  { shows: 'working', when: ({ output, service }) => output !== 'idle' || among(service, ['jogging']) },
  { shows: 'near-end', when: (_, { condition, rollLow }) => condition.nearEnd || rollLow },
  { shows: 'ready', when: () => true },
];

/** The lens moves while the camera works on a picture, and never while it looks: that would spoil the frame. */
const racks = ({ exposure, output }: States, { supplyLow }: SignalFacts): boolean =>
  !supplyLow &&
  !among(exposure, ['firing', 'grabbing']) &&
  among(output, ['recalling', 'developing', 'printing', 'sealing', 'presenting']);

/** What lamp and motor do, from where the regions are. The one place that decides it. */
export const signalsOf = (states: States, facts: SignalFacts): Signals => {
  const row = rows.find(({ when }) => when(states, facts));
  const shows = row?.shows ?? 'ready';
  return {
    lamp: named[typeof shows === 'function' ? shows(facts) : shows],
    motor: racks(states, facts) ? 'racking' : 'still',
  };
};
