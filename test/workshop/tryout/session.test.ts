import { describe, expect, it } from 'vitest';
import { Fault } from '../../../src/parts/fault.ts';
import { summaryText } from '../../../src/workshop/tryout/session.ts';
import { trials } from '../../../src/workshop/tryout/trials.ts';
import { found, tryOut, verdicts } from './desk.ts';

describe('a first bring-up on virtual parts', () => {
  it('goes from what can’t hurt to what heats, and finds settle time, travel and pulse', async () => {
    const { tried, files, live } = await tryOut([]);
    expect(verdicts(tried)).toEqual([
      'lamp works',
      'button works',
      'supply works',
      'webcam works',
      'motor works',
      'shutter works',
      'printer works',
    ]);
    expect(found(tried)).toEqual({ 'button.settleMs': 7, 'motor.travelMs': 400, 'shutter.pulseMs': 8 });
    expect(files).toEqual(['webcam.png', 'webcam-dots.png', 'pattern.png']);
    expect(live).toEqual([]);
    expect(summaryText(tried)).toContain('  lamp     works\n');
  });

  it('each caution stands before the consent, and the consent before the part', async () => {
    for (const { part, cautions } of trials) {
      const { said, desk, tried } = await tryOut([part], { consents: () => false });
      expect(tried[0].verdict).toBe(cautions.length > 0 ? 'left out' : 'works');
      for (const caution of cautions) expect(said.replace(/\s+/g, ' ')).toContain(caution);
      if (cautions.length > 0) expect(Math.max(...said.split('\n').map(line => line.length))).toBeLessThanOrEqual(80);
      for (const name of ['coil', 'motor-in', 'motor-out', 'head'] as const) expect(desk.traces.of(name)).toEqual([]);
    }
    const cautioned = trials.filter(({ cautions }) => cautions.length > 0).map(({ part }) => part);
    expect(cautioned).toEqual(['motor', 'shutter', 'printer']);
  });

  it('stopped at any question, everything is off at once, and what was found so far is there', async () => {
    const parts = ['lamp', 'button', 'supply', 'motor', 'shutter', 'printer'];
    const { questions } = await tryOut(parts);
    expect(questions.length).toBeGreaterThan(8);
    for (let at = 0; at < questions.length; at++) {
      const { end, liveAtOnce, live } = await tryOut(parts, { answers: (_, asked) => (asked === at ? 'stop' : true) });
      expect(end).toBeInstanceOf(Fault);
      expect([at, liveAtOnce, live]).toEqual([at, [], []]);
    }
    const { tried } = await tryOut(parts, { consents: part => (part === 'shutter' ? 'stop' : true) });
    expect(found(tried)).toEqual({ 'button.settleMs': 7, 'motor.travelMs': 400 });
  });

  it.each(trials.map(({ part }) => part))('%s stopped in the middle of any wait lets go at once', async part => {
    const { pauses } = await tryOut([part]);
    // All of the few, thirty of the many.
    for (let at = 0; at < pauses; at += Math.ceil(pauses / 30)) {
      const { end, liveAtOnce, live } = await tryOut([part], { stopAfterPauses: at });
      expect(end).toBeInstanceOf(Fault);
      expect([at, liveAtOnce, live]).toEqual([at, [], []]);
    }
  });

  it('where nobody looks, nothing is concluded', async () => {
    const { tried, desk } = await tryOut([], { answers: () => null });
    expect(verdicts(tried)).toEqual([
      'lamp unjudged',
      'button works',
      'supply works',
      'webcam works',
      'motor unjudged',
      'shutter unjudged',
      'printer works',
    ]);
    expect(found(tried)).toEqual({ 'button.settleMs': 7 });
    expect(desk.control.shutter.strokes).toBe(1);
  });

  it('leaves alone what isn’t fitted', async () => {
    const { tried, questions } = await tryOut(['lamp', 'button', 'motor', 'shutter'], {
      settings: {
        button: { line: null },
        lamp: { line: null },
        shutter: { line: null },
        motor: { outLine: null, inLine: 5 },
      },
    });
    expect(new Set(tried.map(({ verdict }) => verdict))).toEqual(new Set(['not fitted']));
    expect(questions).toEqual([]);
  });
});
