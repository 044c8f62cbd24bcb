import type { Config } from '../../src/config/schema.ts';
import type { Context } from '../../src/machine/context.ts';
import type { CameraEvent } from '../../src/machine/events.ts';
import { fine } from './desk.ts';
import { example, queued, type Region, taking } from './model.ts';

/** Circumstances other than the usual ones of a state, in which an input may do something else. */
export interface Variant {
  context?: Partial<Context>;
  at?: Partial<Record<Region, string>>;
  config?(config: Config): void;
  reverse?: boolean;
  event?: Record<string, unknown>;
}

const paperOut = { ...fine, paperOut: true };

export const variants: Record<string, Variant> = {
  // button
  'soon after a press, a double means nothing': { context: { lastPressUs: 4_800_000 } },
  'soon after a press, a double means something': {
    context: { lastPressUs: 4_800_000 },
    config(config) {
      config.gestures.double = 'reprint';
    },
  },
  'long after a press, a double means something': {
    context: { lastPressUs: 4_500_000 },
    config(config) {
      config.gestures.double = 'reprint';
    },
  },
  'heard late, still before by the stamps': { context: { lastEdgeUs: 4_900_000 } },
  'heard late, still before, soon after a press': {
    context: { lastEdgeUs: 4_900_000, lastPressUs: 4_800_000 },
    config(config) {
      config.gestures.double = 'reprint';
    },
  },
  'heard late, still before, in loading': {
    context: { lastEdgeUs: 4_900_000, lastPressUs: 4_800_000 },
    at: { service: 'loading.open' },
    reverse: true,
  },
  // exposure
  'album not known': { context: { albumKnown: false } },
  'webcam streams': { context: { seeing: true, albumKnown: false } },
  'queue full': { context: { queue: [1, 2, 3, 4].map(shot => queued(shot)) } },
  'one place left': { context: { queue: [1, 2, 3].map(shot => queued(shot)) } },
  'supply low': { context: { supplyLow: true } },
  'of another picture': { event: { shot: 6 } },
  'more of a burst': { context: { taking: taking({ left: 1 }) } },
  'part of the burst unsafe': { context: { taking: taking({ safe: false }) } },
  'no first stroke was given': { context: { taking: taking({ struck: false }) } },
  'webcam gone': { context: { seeing: false } },
  // output
  'a picture to print': { event: { pending: [{ shot: 3, mark: 'kept' }] } },
  'a tail to print': { event: { pending: [{ shot: 3, mark: 'closing' }] } },
  'a tail to print, printer troubled': {
    context: { condition: paperOut },
    event: { pending: [{ shot: 3, mark: 'closing' }] },
  },
  'one set aside': { context: { setAside: [queued(3, { inMemory: false })] } },
  'one printed before': { context: { lastPrinted: queued(6) } },
  'exposure is grabbing': { at: { exposure: 'grabbing' } },
  'printer troubled': { context: { condition: paperOut } },
  'of trouble': { event: { condition: paperOut } },
  low: { event: { low: true, volts: 6 } },
  'not the closing mark': { event: { mark: 'printed' } },
  'kept is not known': { context: { queue: [queued(7, { kept: 'pending' })] } },
  'only in memory': { context: { queue: [queued(7, { kept: 'no' })] } },
  'printed once more': { context: { queue: [queued(7, { again: true })] } },
  'for the eighth time, safe in the album': { context: { queue: [queued(7, { tries: 7 })] } },
  'for the eighth time, only in memory': { context: { queue: [queued(7, { tries: 7, kept: 'no' })] } },
  'for a minute': { context: { unwrittenUs: -56_000_000 } },
  'the closing mark': { event: { mark: 'closing' } },
  'number is not sure': { context: { queue: [queued(7, { numbered: false, kept: 'no' })] } },
  'number is not sure, another waits': { context: { queue: [queued(7, { numbered: false, kept: 'no' }), queued(8)] } },
  'another waits': { context: { queue: [queued(7), queued(8)] } },
  'service is busy': { at: { service: 'loading.open' } },
  // service
  'paper in use': { at: { output: 'printing' }, context: { queue: [queued(7)], dotsOf: 7 } },
  back: { event: { mm: -5 } },
  'back was asked meanwhile': { context: { jogMm: -10 } },
  'paper was out': { context: { condition: paperOut } },
  'roll was touched': { context: { rollTouched: true } },
  'press feeds': {
    config(config) {
      config.gestures.press = 'feed';
    },
  },
  'hold does nothing': {
    config(config) {
      config.gestures.hold = 'none';
    },
  },
  'hold closes, picture being taken': {
    at: { exposure: 'firing' },
    config(config) {
      config.gestures.hold = 'close';
    },
  },
  'hold counts a roll': {
    config(config) {
      config.gestures.hold = 'new-roll';
    },
  },
  'double reprints': {
    config(config) {
      config.gestures.double = 'reprint';
    },
  },
  'picture being taken': { at: { exposure: 'firing' } },
  'an answer is owed': { context: { owed: 1 } },
  'last answer owed': { at: { exposure: 'ready' }, context: { owed: 1 } },
  'in loading': { at: { service: 'loading.open' } },
};

export const eventOf = (type: string, variant: Variant, where = ''): CameraEvent => {
  const mark = type.startsWith('mark.') && where === 'output filing.marking' ? { mark: 'printed' } : {};
  return { ...example(type), ...mark, ...variant.event } as CameraEvent;
};

const inHand = (change = {}): Variant => ({ context: { queue: [queued(7, change)], dotsOf: 7 } });

/** What must hold for a state to be at rest; where nothing is said, all is well and the other regions rest. */
export const usual: Record<string, Variant> = {
  'exposure warming': { context: { seeing: false } },
  'exposure blind': { context: { seeing: false } },
  'output biding': { context: { setAside: [queued(2, { inMemory: false, tries: 1 })] } },
  'output recalling': { context: { queue: [queued(7, { inMemory: false })] } },
  'output developing': { context: { queue: [queued(7)] } },
  'output resting': inHand(),
  'output waiting.troubled': { context: { ...inHand().context, condition: paperOut } },
  'output waiting.healing': inHand(),
  'output printing': inHand(),
  'output sealing.unsure': inHand({ kept: 'pending' }),
  'output sealing.marking': inHand(),
  'output sealing.unwritten': { context: { ...inHand().context, unwrittenUs: 4_000_000 } },
  'output filing.marking': inHand({ stage: 'tail' }),
  'output filing.unwritten': { context: { ...inHand({ stage: 'tail' }).context, unwrittenUs: 4_000_000 } },
  'output presenting': inHand({ stage: 'tail' }),
  'service jogging.pending': { at: { output: 'printing' }, ...inHand() },
  'service loading.pending': { at: { output: 'printing' }, ...inHand() },
  'service closing': { at: { exposure: 'firing' } },
};
