import { describe, expect, it } from 'vitest';
import { type PatternName, patterns, type SignalFacts, signalsOf } from '../../src/machine/signals.ts';
import { closedStates, type States } from '../../src/machine/states.ts';
import type { PrinterCondition } from '../../src/parts/engine.ts';
import { fine } from './desk.ts';

const quiet: States = { button: 'open', exposure: 'ready', output: 'idle', service: 'idle', notice: 'quiet' };
const well: SignalFacts = { condition: fine, supplyLow: false, rollLow: false, albumTrouble: false };
const printer = (change: Partial<PrinterCondition>): Partial<SignalFacts> => ({ condition: { ...fine, ...change } });

type Row = [where: Partial<States>, facts: Partial<SignalFacts>, lamp: PatternName, motor: 'racking' | 'still'];

/** The whole table of signals as a person meets it: where the camera is, what is known, what lamp and motor do. */
const rows: Row[] = [
  [{}, {}, 'ready', 'still'],
  [{}, printer({ nearEnd: true }), 'near-end', 'still'],
  [{}, { rollLow: true }, 'near-end', 'still'],
  [{}, { albumTrouble: true }, 'memory-only', 'still'],
  [{}, { albumTrouble: true, rollLow: true }, 'memory-only', 'still'],
  [{ button: 'held.pressed' }, {}, 'ready', 'still'],

  [{ exposure: 'warming' }, {}, 'warming', 'still'],
  [{ exposure: 'warming' }, printer({ lost: true }), 'warming', 'still'],
  [{ exposure: 'blind' }, {}, 'blind', 'still'],
  [{ exposure: 'firing' }, {}, 'taking', 'still'],
  [{ exposure: 'grabbing' }, {}, 'taking', 'still'],
  [{ exposure: 'keeping' }, {}, 'taking', 'still'],
  [{ exposure: 'answering' }, {}, 'taking', 'still'],
  [{ exposure: 'locked' }, {}, 'ready', 'still'],

  [{ output: 'recalling' }, {}, 'working', 'racking'],
  [{ output: 'developing' }, {}, 'working', 'racking'],
  [{ output: 'printing' }, {}, 'working', 'racking'],
  [{ output: 'sealing.unsure' }, {}, 'working', 'racking'],
  [{ output: 'sealing.marking' }, {}, 'working', 'racking'],
  [{ output: 'sealing.unwritten' }, { albumTrouble: true }, 'pausing', 'still'],
  [{ output: 'presenting' }, {}, 'working', 'racking'],
  [{ output: 'filing.marking' }, {}, 'working', 'racking'],
  [{ output: 'filing.unwritten' }, { albumTrouble: true }, 'pausing', 'still'],
  [{ output: 'biding' }, {}, 'ready', 'still'],
  [{ output: 'resting' }, {}, 'resting', 'still'],
  [{ output: 'waiting.healing' }, {}, 'pausing', 'still'],

  // The lens never moves while the webcam looks through it, and never on a weak battery.
  [{ output: 'printing', exposure: 'firing' }, {}, 'taking', 'still'],
  [{ output: 'printing', exposure: 'grabbing' }, {}, 'taking', 'still'],
  [{ output: 'printing', exposure: 'keeping' }, {}, 'taking', 'racking'],
  [{ output: 'printing', exposure: 'answering' }, {}, 'taking', 'racking'],
  [{ output: 'printing' }, { supplyLow: true }, 'working', 'still'],

  // Each reason to wait has its own count, whether something waits for it or not.
  [{ output: 'waiting.troubled' }, printer({ paperOut: true }), 'paper-out', 'still'],
  [{ output: 'waiting.troubled' }, printer({ lidOpen: true }), 'lid-open', 'still'],
  [{ output: 'waiting.troubled' }, printer({ headHot: true }), 'head-hot', 'still'],
  [{ output: 'waiting.troubled' }, { supplyLow: true }, 'supply-low', 'still'],
  [{ output: 'waiting.troubled' }, printer({ lost: true }), 'lost', 'still'],
  [{ output: 'waiting.troubled' }, printer({ offLine: true }), 'off-line', 'still'],
  [{}, printer({ paperOut: true }), 'paper-out', 'still'],
  [{}, printer({ lidOpen: true }), 'lid-open', 'still'],
  [{}, printer({ headHot: true }), 'head-hot', 'still'],
  [{}, { supplyLow: true }, 'supply-low', 'still'],
  [{}, printer({ lost: true }), 'lost', 'still'],
  [{}, printer({ offLine: true }), 'off-line', 'still'],
  [{ output: 'biding' }, printer({ paperOut: true }), 'paper-out', 'still'],
  // Of several, the one that must be seen to first.
  [{ output: 'waiting.troubled' }, printer({ lidOpen: true, paperOut: true, offLine: true }), 'lid-open', 'still'],
  [{ output: 'waiting.troubled' }, printer({ paperOut: true, offLine: true }), 'paper-out', 'still'],
  [{ output: 'waiting.troubled' }, printer({ lost: true, lidOpen: true }), 'lost', 'still'],

  [{ service: 'jogging.pending' }, {}, 'working', 'still'],
  [{ service: 'jogging.forward' }, {}, 'working', 'still'],
  [{ service: 'jogging.back' }, {}, 'working', 'still'],
  [{ service: 'loading.pending', output: 'printing' }, {}, 'loading', 'racking'],
  [{ service: 'loading.open' }, printer({ lidOpen: true }), 'loading', 'still'],
  [{ service: 'loading.forward' }, {}, 'loading', 'still'],
  [{ service: 'loading.back' }, {}, 'loading', 'still'],
  [{ service: 'loading.intake' }, {}, 'loading', 'still'],
  [{ service: 'closing', output: 'printing' }, {}, 'closing', 'racking'],
  [closedStates, {}, 'closed', 'still'],

  // For a moment, over nearly everything.
  [{ notice: 'refused' }, {}, 'refused', 'still'],
  [{ notice: 'refused', output: 'waiting.troubled' }, printer({ paperOut: true }), 'refused', 'still'],
  [{ notice: 'refused', exposure: 'warming' }, {}, 'refused', 'still'],
  [{ notice: 'refused', exposure: 'grabbing' }, {}, 'refused', 'still'],
  [{ notice: 'missed' }, {}, 'missed', 'still'],
  [{ notice: 'unkept', output: 'developing' }, {}, 'unkept', 'racking'],
  [{ notice: 'unkept', service: 'closing' }, {}, 'closing', 'still'],
];

describe('signals', () => {
  it.each(rows)('%o with %o: %s, %s', (where, facts, lamp, motor) => {
    const signals = signalsOf({ ...quiet, ...where }, { ...well, ...facts });
    expect({ lamp: signals.lamp.name, motor: signals.motor }).toEqual({ lamp, motor });
    expect(signals.lamp.stepsMs).toEqual(patterns[lamp].stepsMs);
  });

  it('every pattern is shown somewhere', () => {
    const shown = new Set(rows.map(([, , lamp]) => lamp));
    expect(Object.keys(patterns).filter(name => !shown.has(name as PatternName))).toEqual([]);
  });

  // 50 ms: shorter flashes run together for the eye (common practice, no source).
  it('no two things look alike, but for the two kinds of dark', () => {
    const dark = Object.values(patterns).filter(({ stepsMs }) => stepsMs.length === 0);
    const lit = Object.values(patterns).filter(({ stepsMs }) => stepsMs.length > 0);
    expect(dark).toHaveLength(2);
    expect(new Set(lit.map(({ stepsMs }) => stepsMs.join())).size).toBe(lit.length);
    for (const { stepsMs } of lit)
      for (const stepMs of stepsMs) expect(stepMs === Number.POSITIVE_INFINITY || stepMs >= 50).toBe(true);
  });

  it('flashes as often as its words say', () => {
    for (const { means, stepsMs } of Object.values(patterns)) {
      const count = /^(\d) flashes/.exec(means)?.[1];
      if (count) expect(stepsMs.length / 2).toBe(Number(count));
    }
  });
});
