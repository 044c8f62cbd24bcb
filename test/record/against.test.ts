import { describe, expect, it } from 'vitest';
import type { LogRecord } from '../../src/console/read/own.ts';
import { createLogComparison } from '../../src/record/against.ts';

const record = (mono: number, event = 'webcam-ready', fields: object = {}): LogRecord =>
  ({ level: 'info', time: 1000 + mono, mono, event, ...fields }) as LogRecord;

/** A log and a replay, given to the comparison in turns. */
const compare = (log: readonly LogRecord[], replayed: readonly LogRecord[], complete = true) => {
  const comparison = createLogComparison();
  comparison.begin();
  for (const [i, one] of log.entries()) comparison.expect(i + 1, one);
  for (const one of replayed) comparison.came(one);
  comparison.exhausted();
  comparison.end(complete);
  return comparison;
};
const three = [record(1), record(2, 'ready', { sinceStartMs: 2 }), record(3, 'closing', { why: 'x' })];

describe('a log against its replay', () => {
  it('is the same where every line is', () => {
    const { divergence, compared } = compare(three, three);
    expect(divergence).toBeNull();
    expect(compared).toBe(3);
  });

  it('differs where a field, a moment or the time of day does', () => {
    for (const change of [{ mono: 4 }, { time: 5 }, { why: 'y' }, { event: 'closed', pending: 1 }])
      expect(compare(three, [...three.slice(0, 2), { ...three[2], ...change } as LogRecord]).divergence).toMatchObject({
        line: 3,
        expected: three[2],
        before: three.slice(0, 2),
      });
  });

  it('differs where the log goes on and the replay has ended by itself', () => {
    expect(compare(three, three.slice(0, 2)).divergence).toMatchObject({ line: 3, expected: three[2], came: null });
  });

  it('says nothing against a replay that was cut off, or against a log that was', () => {
    expect(compare(three, three.slice(0, 2), false).divergence).toBeNull();
    expect(compare(three.slice(0, 2), three).divergence).toBeNull();
  });

  it('lets lines from around the machine stand between, and what a part itself may have said', () => {
    const aside = [
      record(0, 'start', { version: '1', config: 'x', nodeMs: 1 }),
      three[0],
      record(2, 'stalled', { lateMs: 400 }),
      record(2, 'part-fault', { part: 'webcam', why: 'odd' }),
      three[1],
      three[2],
    ];
    expect(compare(aside, three).divergence).toBeNull();
    // What the machine said is missed.
    expect(compare(three, [record(0), ...three.slice(1)]).divergence).not.toBeNull();
    const faulty = [three[0], record(2, 'part-fault', { part: 'webcam', why: 'odd' }), ...three.slice(1)];
    expect(compare(three, faulty).divergence).toMatchObject({ expected: three[1], came: faulty[1] });
  });

  it('lets as many lines be missing as the log says were dropped', () => {
    const lines = Array.from({ length: 10 }, (_, i) => record(i, 'resumed', { waitedMs: i }));
    const thin = (dropped: number) => [
      ...lines.slice(0, 3),
      record(3, 'dropped', { lines: dropped }),
      ...lines.slice(7),
    ];
    expect(compare(thin(4), lines)).toMatchObject({ divergence: null, missing: 4, compared: 6 });
    expect(compare(thin(3), lines).divergence).not.toBeNull();
  });

  it('doesn’t take the next life of the program for more of this one', () => {
    const next = [record(9, 'start', { version: '1', config: 'x', nodeMs: 1 }), record(10)];
    expect(compare([...three, ...next], three).divergence).toBeNull();
    expect(compare([...three, record(0)], three).divergence).toBeNull();
  });

  it('looks for the beginning of each life', () => {
    const comparison = createLogComparison();
    const second = three.map(one => ({ ...one, time: one.time + 5000 }));
    for (const [i, one] of [record(77), ...three, record(50), ...second].entries()) comparison.expect(i + 1, one);
    for (const life of [three, second]) {
      comparison.begin();
      for (const one of life) comparison.came(one);
      comparison.end(false);
    }
    expect(comparison.divergence).toBeNull();
    expect(comparison.compared).toBe(6);
  });

  it('says when nothing fits', () => {
    expect(compare([record(50), record(60)], three).divergence).toMatchObject({
      line: null,
      expected: null,
      came: three[0],
    });
  });
});
