import { createReadStream } from 'node:fs';
import type { LogRecord } from '../console/read/own.ts';
import { createConsoleParser } from '../console/read/stream.ts';
import { Fault } from '../parts/fault.ts';
import type { Imprint } from '../print/imprint.ts';
import { createLogComparison, type LogDivergence } from './against.ts';
import type { Entry } from './entry.ts';
import { readRecording } from './read.ts';
import type { RecordingHeader } from './recorder.ts';
import { createReplay, type Divergence, type Replay, type ReplayClock, type ReplayOptions } from './replay.ts';

export interface RunReplayOptions {
  recording: string;
  /** A log, or a console with one in it. */
  against: string | null;
  createClock(wallAtStartMs: number): ReplayClock;
  createImprint(header: RecordingHeader): Imprint | null;
  developAgain?(header: RecordingHeader): ReplayOptions['developAgain'];
  /** A life begins, on this clock. */
  onLife?(clock: ReplayClock, header: RecordingHeader): Pick<ReplayOptions, 'deeds' | 'onTransition' | 'onInput'>;
  onLog?(line: string, record: LogRecord): void;
  onBytes?(bytes: number): void;
  onMended?(what: string): void;
  stopped?(): boolean;
}

export interface ReplayResult {
  lives: number;
  lifeUs: number;
  inputs: number;
  sentBytes: number;
  /** Lines of the log that were compared; null without one. */
  compared: number | null;
  /** Lines that a slow console had dropped. */
  missing: number;
  divergence: Divergence | null;
  logDivergence: LogDivergence | null;
  /** What was read and said last before the divergence. */
  lastInputs: Entry[];
  lastLines: LogRecord[];
}

const remembered = 4;
const linesAhead = 4096;
const longestAheadUs = 120_000_000;

const ownLines = async function* (path: string): AsyncGenerator<{ line: number; record: LogRecord }> {
  const parser = createConsoleParser();
  try {
    for await (const chunk of createReadStream(path, { highWaterMark: 65_536 }))
      for (const heard of parser.push(chunk as Uint8Array)) if (heard.kind === 'own') yield heard;
  } catch (error) {
    const { code, message } = error as NodeJS.ErrnoException;
    if (!code) throw error;
    const why = code === 'ENOENT' ? 'there is no such file' : message;
    throw new Fault('unreadable', `--against ${path}: can’t be read: ${why}`, 'check the path', { cause: error });
  }
  for (const heard of parser.end()) if (heard.kind === 'own') yield heard;
};

/** Replays a whole recording, life by life, in memory that doesn't grow with it, up to the first divergence. */
export const runReplay = async (options: RunReplayOptions): Promise<ReplayResult> => {
  const { recording, against } = options;
  const comparison = against === null ? null : createLogComparison();
  const log = against === null ? null : ownLines(against);
  const lastInputs: Entry[] = [];
  let lastLines: LogRecord[] = [];
  let replay: Replay | null = null;
  let header: RecordingHeader | null = null;
  let clock: ReplayClock | null = null;
  let lives = 0;
  let lifeUs = 0;
  let inputs = 0;
  let sentBytes = 0;
  let complete = false;
  let lastUs = 0;

  const pull = async (wanted: () => boolean) => {
    while (log && comparison && !comparison.divergence && wanted()) {
      const { value, done } = await log.next();
      if (done) return comparison.exhausted();
      comparison.expect(value.line, value.record);
    }
  };
  const differs = () => replay?.divergence || comparison?.divergence;
  const onLog = (line: string) => {
    const record = JSON.parse(line) as LogRecord;
    options.onLog?.(line, record);
    lastLines = [...lastLines.slice(1 - remembered), record];
    comparison?.came(record);
  };
  /** A life that was cut off goes on until what the log still has of it. */
  const untilUs = async (): Promise<number> => {
    if (!comparison || !header || complete) return lastUs;
    const base = header.startedMonoUs;
    const belongs = ({ event, mono }: LogRecord) =>
      event !== 'start' && mono - base >= lastUs && mono - base < lastUs + longestAheadUs;
    await pull(() => {
      const last = comparison.lastAhead;
      return last === undefined || belongs(last);
    });
    return Math.max(lastUs, (comparison.lastMono(belongs) ?? 0) - base);
  };
  const endLife = async () => {
    if (!replay || !clock) return;
    if (!differs()) replay.end(await untilUs());
    await pull(() => comparison !== null && comparison.waiting > 0);
    comparison?.end(complete);
    lifeUs += clock.nowUs();
    inputs += replay.inputs;
    sentBytes += replay.sentBytes;
  };
  const beginLife = (next: RecordingHeader, line: number) => {
    if (next.lost)
      throw new Fault(
        'unreadable',
        `${recording}, line ${line}: the first ${next.lost} inputs of it are gone: its ring was full`,
        'it can be read, but not replayed; run --record FILE keeps everything',
      );
    header = next;
    lives++;
    complete = false;
    lastUs = 0;
    clock = options.createClock(Date.parse(next.startedAt));
    comparison?.begin();
    const heard = options.onLife?.(clock, next);
    replay = createReplay({
      header: next,
      clock,
      imprint: options.createImprint(next),
      developAgain: options.developAgain?.(next),
      onLog,
      ...heard,
      onInput(entry) {
        lastInputs.push(entry);
        if (lastInputs.length > remembered) lastInputs.shift();
        heard?.onInput?.(entry);
      },
    });
  };

  for await (const items of readRecording(recording, options)) {
    // So that a divergence is seen at its very line.
    await pull(() => comparison !== null && comparison.ahead < linesAhead);
    for (const item of items) {
      if (differs()) break;
      if (item.kind === 'header') {
        await endLife();
        if (!differs()) beginLife(item.header, item.line);
        continue;
      }
      const { entry } = item;
      lastUs = entry.t;
      complete = entry.part === 'clock' && entry.kind === 'end';
      (replay as Replay | null)?.take(item.line, entry);
    }
    await pull(() => comparison !== null && comparison.waiting > 0);
    if (differs() || options.stopped?.()) break;
  }
  await endLife();
  if (inputs === 0 && !differs() && !options.stopped?.())
    throw new Fault(
      'unreadable',
      `${recording} holds no input, only what was set: there is nothing to replay`,
      'let the camera run a while with run --record FILE; the file is whole once the program has ended',
    );

  return {
    lives,
    lifeUs,
    inputs,
    sentBytes,
    compared: comparison?.compared ?? null,
    missing: comparison?.missing ?? 0,
    divergence: (replay as Replay | null)?.divergence ?? null,
    logDivergence: comparison?.divergence ?? null,
    lastInputs,
    lastLines,
  };
};
