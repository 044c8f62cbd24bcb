import { describe, expect, it } from 'vitest';
import { createVirtualClock } from '../../sim/clock.ts';
import { createLog } from '../../src/console/log.ts';
import type { LogRecord } from '../../src/console/read/own.ts';
import { eventReference } from '../../src/console/reference.ts';
import { type EventEntry, type EventName, type Level, levels, vocabulary } from '../../src/console/vocabulary.ts';
import { recordInWords } from '../../src/console/words.ts';

const entries = Object.entries(vocabulary as Record<string, EventEntry>) as [EventName, EventEntry][];
/** Fields of every event as a picture's party would fill them. */
const sample = ({ fields }: EventEntry) =>
  Object.fromEntries(
    Object.entries(fields).map(([name, { type }]) => [
      name,
      type === 'number' ? 1_234_567 : type === 'boolean' ? true : 'a reason',
    ]),
  );

describe('the vocabulary', () => {
  // After a change of the table: npx vitest run --config test/vitest.config.ts test/console/vocabulary.test.ts -u
  it('is what the published reference says', async () => {
    await expect(eventReference()).toMatchFileSnapshot('../../config/log-events.md');
  });

  it('has units in the names of fields that have one', () => {
    const suffixes: Record<string, RegExp> = { µs: /Us$/, ms: /Ms$/, mm: /Mm$/, '%': /Percent$/, V: /^volts$/ };
    for (const [, { fields }] of entries)
      for (const [name, { unit }] of Object.entries(fields)) if (unit) expect(name).toMatch(suffixes[unit]);
  });

  it('has names and meanings of its own for each event', () => {
    expect(new Set(entries.map(([, { meaning }]) => meaning)).size).toBe(entries.length);
    for (const [name, { level }] of entries) {
      expect(name).toMatch(/^[a-z]+(-[a-z]+)*$/);
      expect(levels).toContain(level);
    }
  });

  it('is told in plain words, or by the line of its picture', () => {
    const byPicture = new Set(['press', 'coil', 'frame', 'kept', 'developed', 'print-begun', 'printed']);
    for (const [event, entry] of entries) {
      const words = recordInWords({ level: entry.level, time: 0, mono: 0, event, ...sample(entry) } as LogRecord);
      if (byPicture.has(event)) expect(words).toBeNull();
      else expect(words).toMatch(/^[a-z0-9].*[^.]$/);
      expect(words ?? '').not.toMatch(/undefined|NaN|\[object/);
    }
  });
});

describe('the log', () => {
  const written = (level: Level, startedMonoUs?: number) => {
    const lines: string[] = [];
    const clock = createVirtualClock(Date.UTC(2026, 5, 20, 18));
    clock.runUntil(1_500_250);
    const log = createLog({ clock, level, startedMonoUs, destination: { write: line => lines.push(line) } });
    for (const [event, entry] of entries) log(event, sample(entry) as never);
    return lines;
  };

  it('has level, time, mono, event and the fields of the event on each line, and nothing else', () => {
    const lines = written('trace', 40_000_000);
    expect(lines).toHaveLength(entries.length);
    for (const [i, [event, entry]] of entries.entries()) {
      expect(lines[i].endsWith('}\n')).toBe(true);
      expect(JSON.parse(lines[i])).toEqual({
        level: entry.level,
        time: Date.UTC(2026, 5, 20, 18) + 1500,
        mono: 41_500_250,
        event,
        ...sample(entry),
      });
      expect(Object.keys(JSON.parse(lines[i])).slice(0, 4)).toEqual(['level', 'time', 'mono', 'event']);
    }
  });

  it('writes the same bytes in the same run', () => {
    expect(written('trace')).toEqual(written('trace'));
  });

  it('leaves out what is below its level', () => {
    for (const [i, level] of levels.entries())
      expect(written(level)).toHaveLength(entries.filter(([, entry]) => levels.indexOf(entry.level) >= i).length);
  });

  it('has at most 2 kB for a picture, were every line of one as long as it gets', () => {
    const ofPicture = entries.filter(
      ([event, { fields, level }]) => 'shot' in fields && level === 'info' && event !== 'coil',
    );
    const lines: string[] = [];
    const log = createLog({
      clock: createVirtualClock(Date.UTC(2099, 11, 31)),
      level: 'info',
      startedMonoUs: 9_999_999_999_999,
      destination: { write: line => lines.push(line) },
    });
    for (const [event, { fields }] of ofPicture)
      log(
        event,
        Object.fromEntries(
          Object.entries(fields).map(([name, { type }]) => [name, type === 'number' ? 999_999_999 : 'ffffffff']),
        ) as never,
      );
    for (const stroke of ['first', 'second']) log('coil', { shot: 999_999, pressToCoilUs: 99_999_999, stroke });
    expect(lines.length).toBeGreaterThanOrEqual(8);
    expect(Buffer.byteLength(lines.join(''))).toBeLessThan(2000);
  });
});
