import type { LogRecord } from '../console/read/own.ts';
import { type EventEntry, vocabulary } from '../console/vocabulary.ts';

/** Where log and replay part: what the log has, what came instead, and what both said just before. */
export interface LogDivergence {
  /** Line of the log; null where it has none. */
  line: number | null;
  expected: LogRecord | null;
  came: LogRecord | null;
  before: LogRecord[];
}

export interface LogComparison {
  /** A life begins: its first line is looked for in the log. */
  begin(): void;
  /** The next line of the log. */
  expect(line: number, record: LogRecord): void;
  /** The log has no more. */
  exhausted(): void;
  /** The next line of the replay. */
  came(record: LogRecord): void;
  /** Nothing more comes in this life; `complete` where the program ended by itself. */
  end(complete: boolean): void;
  /** Lines of the replay that wait for a line of the log. */
  readonly waiting: number;
  /** Lines of the log that wait for a line of the replay: how many, and which is the last. */
  readonly ahead: number;
  readonly lastAhead: LogRecord | undefined;
  /** The last moment, µs since boot, that the waiting lines speak of while they `belong`. */
  lastMono(belongs: (record: LogRecord) => boolean): number | null;
  readonly compared: number;
  /** Lines that a slow console had dropped from the log. */
  readonly missing: number;
  readonly divergence: LogDivergence | null;
}

/** What the part itself may have said, beside the machine. */
const perhapsAside = new Set<string>(['part-fault', 'coil-fault']);
const isAside = ({ event }: LogRecord): boolean => (vocabulary[event] as EventEntry).aside === true;
const remembered = 4;

/** Compares a log, line by line, with what a replay says; keeps no more than what isn't settled. */
export const createLogComparison = (): LogComparison => {
  const log: { line: number; record: LogRecord; text: string }[] = [];
  let replayed: { record: LogRecord; text: string }[] = [];
  let before: LogRecord[] = [];
  let credit = 0;
  let missing = 0;
  let compared = 0;
  let inStep = false;
  let dry = false;
  let divergence: LogDivergence | null = null;

  const differ = (expected: (typeof log)[number] | undefined, came: LogRecord | undefined) => {
    divergence ??= {
      line: expected?.line ?? null,
      expected: expected?.record ?? null,
      came: came ?? null,
      before,
    };
  };
  const settle = () => {
    while (!divergence && log.length > 0 && replayed.length > 0) {
      const [expected] = log;
      const [came] = replayed;
      if (expected.text === came.text) {
        log.shift();
        replayed.shift();
        compared++;
        inStep = true;
        before = [...before.slice(1 - remembered), came.record];
      } else if (isAside(expected.record) || !inStep) {
        if (expected.record.event === 'dropped') credit += Number(expected.record.lines);
        log.shift();
      } else if (credit > 0) {
        replayed.shift();
        credit--;
        missing++;
      } else if (perhapsAside.has(expected.record.event)) log.shift();
      else differ(expected, came.record);
    }
  };
  const textOf = (record: LogRecord) => JSON.stringify(record);

  return {
    begin() {
      inStep = false;
      credit = 0;
      before = [];
    },
    expect(line, record) {
      log.push({ line, record, text: textOf(record) });
      settle();
    },
    exhausted() {
      dry = true;
      if (replayed.length > 0 && !inStep) differ(undefined, replayed[0].record);
    },
    came(record) {
      if (dry && log.length === 0) return;
      replayed.push({ record, text: textOf(record) });
      settle();
    },
    end(complete) {
      settle();
      // A log that ends early says nothing against the rest; one that goes on in the same life knows of more than came.
      const next = log.findIndex(({ record }) => !isAside(record) && !perhapsAside.has(record.event));
      const last = before.at(-1);
      const sameLife =
        next >= 0 &&
        last !== undefined &&
        last.event !== 'closed' &&
        log[next].record.mono >= last.mono &&
        log.slice(0, next).every(({ record }) => record.event !== 'start');
      if (complete && sameLife && credit === 0) differ(log[next], undefined);
      replayed = [];
    },
    get waiting() {
      return replayed.length;
    },
    get ahead() {
      return log.length;
    },
    get lastAhead() {
      return log.at(-1)?.record;
    },
    lastMono(belongs) {
      let last: number | null = null;
      for (const { record } of log) {
        if (!belongs(record)) break;
        last = Math.max(last ?? 0, record.mono);
      }
      return last;
    },
    get compared() {
      return compared;
    },
    get missing() {
      return missing;
    },
    get divergence() {
      return divergence;
    },
  };
};
