import type { LampPattern } from '../parts/lamp.ts';
import { type Context, type WaitingReason, waitingReasons } from './context.ts';
import type { States } from './states.ts';

export interface Signals {
  lamp: LampPattern;
  motor: 'racking' | 'still';
}

export type SignalFacts = Pick<Context, 'condition' | 'supplyLow' | 'rollLow' | 'albumTrouble'>;

export const sameFacts = (a: SignalFacts, b: SignalFacts | null): boolean =>
  b !== null &&
  a.condition === b.condition &&
  a.supplyLow === b.supplyLow &&
  a.rollLow === b.rollLow &&
  a.albumTrouble === b.albumTrouble;

/** `count` short flashes and a pause. */
const flashes = (count: number): number[] => [
  ...Array.from({ length: 2 * count - 1 }, (_, i) => (i % 2 === 0 ? 140 : 180)),
  1100,
];

/**
 * The lamp's language: on and off in milliseconds. Steady with or without a wink: press. Dark: a picture is being taken.
 * Even blinking: wait, the camera works. Counted flashes: something is needed, and the count says what.
 */
export const patterns = {
  ready: { means: 'steady: press', stepsMs: [Number.POSITIVE_INFINITY] },
  'near-end': { means: 'steady, two winks: press; little paper is left', stepsMs: [1700, 120, 120, 120] },
  'memory-only': { means: 'steady, one wink: press; pictures are printed but can’t be kept', stepsMs: [1700, 120] },
  taking: { means: 'dark: a picture is being taken, hold still', stepsMs: [] },
  working: { means: 'even blinking: developing or printing', stepsMs: [500, 500] },
  pausing: { means: 'even blinking, quicker: the printer stopped and is tried again', stepsMs: [300, 300] },
  resting: { means: 'even blinking, slow: the print head cools', stepsMs: [2000, 2000] },
  loading: { means: 'two blinks and a pause: loading paper', stepsMs: [250, 250, 250, 750] },
  warming: { means: 'a spark a second: not ready yet', stepsMs: [100, 900] },
  blind: { means: 'nearly steady, a wink a second: the webcam is gone', stepsMs: [900, 100] },
  refused: { means: 'flutter: this press was not accepted', stepsMs: [60, 60] },
  missed: { means: 'hasty blinking for three seconds: no picture came of that press', stepsMs: [350, 120] },
  unkept: { means: 'long and short for four seconds: printed, not kept', stepsMs: [700, 100, 100, 100] },
  'paper-out': { means: '2 flashes: no paper', stepsMs: flashes(2) },
  'lid-open': { means: '3 flashes: the lid is open', stepsMs: flashes(3) },
  'head-hot': { means: '4 flashes: the print head is too hot', stepsMs: flashes(4) },
  'supply-low': { means: '5 flashes: the battery is low', stepsMs: flashes(5) },
  lost: { means: '6 flashes: the printer doesn’t answer or is unplugged', stepsMs: flashes(6) },
  'off-line': { means: '7 flashes: the printer is off line', stepsMs: flashes(7) },
  closing: { means: 'long on, short off: the program ends', stepsMs: [1500, 500] },
  closed: { means: 'dark: off', stepsMs: [] },
} as const satisfies Record<string, { means: string; stepsMs: readonly number[] }>;

export type PatternName = keyof typeof patterns;

const named = Object.fromEntries(
  Object.entries(patterns).map(([name, { stepsMs }]) => [name, { name, stepsMs }]),
) as unknown as Record<PatternName, LampPattern>;

/** Whether a region is in one of these states, nested ones included. */
const among = (state: string, names: readonly string[]): boolean => {
  const dot = state.indexOf('.');
  return names.includes(dot < 0 ? state : state.slice(0, dot));
};

/** A mark waits for the disk to heal. */
const isUnwritten = (output: string): boolean => output.endsWith('.unwritten');

const gravest = (facts: SignalFacts): WaitingReason | undefined => waitingReasons(facts)[0];

interface Row {
  shows: PatternName | ((facts: SignalFacts) => PatternName);
  when(states: States, facts: SignalFacts): boolean;
}

/** The first row that holds is shown: from what the person must see at once to what is merely so. */
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
    when: ({ output }, facts) =>
      among(output, ['waiting']) ||
      isUnwritten(output) ||
      (among(output, ['idle', 'biding']) && gravest(facts) !== undefined),
  },
  { shows: 'resting', when: ({ output }) => output === 'resting' },
  {
    shows: 'working',
    when: ({ output, service }) => !among(output, ['idle', 'biding']) || among(service, ['jogging']),
  },
  { shows: 'memory-only', when: (_, { albumTrouble }) => albumTrouble },
  { shows: 'near-end', when: (_, { condition, rollLow }) => condition.nearEnd || rollLow },
  { shows: 'ready', when: () => true },
];

/** The lens moves while the camera works on a picture, and never while it looks: that would spoil the frame. */
const racks = ({ exposure, output }: States, { supplyLow }: SignalFacts): boolean =>
  !supplyLow &&
  !isUnwritten(output) &&
  !among(exposure, ['firing', 'grabbing']) &&
  among(output, ['recalling', 'developing', 'printing', 'sealing', 'presenting', 'filing']);

/** What lamp and motor do, from where the regions are: the one place that decides it. */
export const signalsOf = (states: States, facts: SignalFacts): Signals => {
  const { shows } = rows.find(({ when }) => when(states, facts)) ?? rows[rows.length - 1];
  return {
    lamp: named[typeof shows === 'function' ? shows(facts) : shows],
    motor: racks(states, facts) ? 'racking' : 'still',
  };
};
