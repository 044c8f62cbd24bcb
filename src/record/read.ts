import { createReadStream } from 'node:fs';
import * as z from 'zod/mini';
import { profileSchema } from '../config/profile.ts';
import { configSchema } from '../config/schema.ts';
import { Fault } from '../parts/fault.ts';
import { checkEntry, type Entry } from './entry.ts';
import { hashOf, type RecordingHeader, recordingFormat, recordingVersion } from './recorder.ts';

/** A recording holds one life of the program after another, each with a header. */
export type Item =
  | { kind: 'header'; line: number; header: RecordingHeader }
  | { kind: 'input'; line: number; entry: Entry };

export interface RecordingParser {
  /** Takes bytes as they come; gives what is whole by now. */
  push(chunk: Uint8Array): Item[];
  /** The last line. */
  end(): Item[];
  /** What was put right, in words, with its line. */
  readonly mended: readonly string[];
}

const longestLineBytes = 64_000_000;

const headerSchema = z.strictObject({
  format: z.literal(recordingFormat),
  version: z.literal(recordingVersion),
  startedAt: z.iso.datetime(),
  startedMonoUs: z.int().check(z.minimum(0)),
  configHash: z.string(),
  config: z.unknown(),
  profile: z.unknown(),
  shutterSays: z.boolean(),
  seed: z.nullable(z.number()),
  lost: z.optional(z.int()),
});

const headerStart = `{"format":"${recordingFormat}"`;

/**
 * Reads a recording piece by piece, in memory that doesn't grow with it. A line that was cut off, at the end or where the
 * program began again, is dropped; anything else that isn’t as it was written is a `Fault` with its line.
 * @param name How the recording is called in messages.
 */
export const createRecordingParser = (name: string): RecordingParser => {
  const mended: string[] = [];
  let rest: Uint8Array[] = [];
  let restBytes = 0;
  let line = 0;
  let lastUs = 0;
  let started = false;
  /** A line that can't be read: forgiven if it turns out to be the last one of a life. */
  let broken: { line: number; why: string } | null = null;

  const refuse = (at: number, why: string): never => {
    const before = at > 2 ? `the ${at - 1} lines before it are whole: head -n ${at - 1} keeps them` : 'record it again';
    throw new Fault('unreadable', `${name}, line ${at}: ${why}`, before);
  };
  const dropBroken = () => {
    if (!broken) return;
    mended.push(`line ${broken.line} was cut off and is left out`);
    broken = null;
  };
  const parse = (text: string): Record<string, unknown> | string => {
    try {
      const value: unknown = JSON.parse(text);
      return typeof value === 'object' && value !== null && !Array.isArray(value)
        ? (value as Record<string, unknown>)
        : 'isn’t an object';
    } catch {
      return 'isn’t JSON';
    }
  };
  const header = (value: Record<string, unknown>): Item => {
    if (typeof value.version === 'number' && value.version > recordingVersion)
      throw new Fault(
        'unreadable',
        `${name}, line ${line}: version ${value.version} of the format is newer than this program, which knows ${recordingVersion}`,
        'replay it with the program that recorded it',
      );
    const { success, error } = headerSchema.safeParse(value);
    if (!success) return refuse(line, `its header isn’t whole ('${error.issues[0].path.join('.')}')`);
    const read = value as unknown as RecordingHeader;
    if (read.configHash !== hashOf(read.config, read.profile))
      throw new Fault(
        'unreadable',
        `${name}, line ${line}: the settings in the header aren’t those that were recorded: their hash differs`,
        'take back the edit: other settings would need other inputs',
      );
    const [config, profile] = [configSchema.safeParse(read.config), profileSchema.safeParse(read.profile)];
    if (!config.success) return refuse(line, `setting ${config.error.issues[0].path.join('.')} isn’t known here`);
    if (!profile.success) return refuse(line, `profile ${profile.error.issues[0].path.join('.')} isn’t known here`);
    lastUs = 0;
    started = true;
    return { kind: 'header', line, header: { ...read, config: config.data, profile: profile.data } };
  };
  const item = (value: Record<string, unknown>): Item => {
    if (value.format !== undefined) {
      dropBroken();
      if (value.format === recordingFormat) return header(value);
    }
    if (!started) {
      const what = typeof value.event === 'string' ? 'is a log, no recording' : 'isn’t a recording';
      throw new Fault('unreadable', `${name} ${what}`, 'a recording is what run --record or rehearse leave behind');
    }
    if (broken) refuse(broken.line, broken.why);
    const entry = checkEntry(value);
    if (typeof entry === 'string') return refuse(line, entry);
    if (entry.t < lastUs)
      return refuse(line, `time goes back from ${lastUs} to ${entry.t} µs: lines changed places or were edited`);
    lastUs = entry.t;
    return { kind: 'input', line, entry };
  };
  const take = (bytes: Uint8Array, into: Item[]) => {
    line++;
    const text = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength)
      .toString()
      .replace(/^\ufeff/, '');
    if (text.trim() === '') return;
    let value = parse(text);
    if (typeof value === 'string') {
      // A life that was cut off in the midst of a line, and the next one right behind it.
      const next = text.lastIndexOf(headerStart);
      if (next > 0) {
        const second = parse(text.slice(next));
        if (typeof second === 'object') {
          if (broken) refuse(broken.line, broken.why);
          mended.push(`line ${line} was cut off where the program began again; its first part is left out`);
          value = second;
        }
      }
    }
    if (typeof value === 'object') {
      into.push(item(value));
      return;
    }
    if (!started)
      throw new Fault(
        'unreadable',
        `${name} isn’t a recording: its first line ${value}`,
        'a recording is what run --record or rehearse leave behind',
      );
    if (broken) refuse(broken.line, broken.why);
    broken = { line, why: value };
  };

  return {
    push(chunk) {
      const items: Item[] = [];
      let from = 0;
      for (let at = chunk.indexOf(0x0a); at >= 0; at = chunk.indexOf(0x0a, from)) {
        const piece = chunk.subarray(from, at);
        from = at + 1;
        if (restBytes === 0) take(piece, items);
        else {
          const whole = Buffer.concat([...rest, piece]);
          rest = [];
          restBytes = 0;
          take(whole, items);
        }
      }
      if (from < chunk.length) {
        rest.push(chunk.slice(from));
        restBytes += chunk.length - from;
        if (restBytes > longestLineBytes) refuse(line + 1, 'is longer than any line of a recording');
      }
      return items;
    },
    end() {
      const items: Item[] = [];
      const last = Buffer.concat(rest);
      rest = [];
      restBytes = 0;
      // After a power cut a file may end in zeros.
      const zeros = last.indexOf(0);
      if (zeros >= 0 && last.subarray(zeros).every(byte => byte === 0)) {
        if (zeros > 0 || last.length > 0) mended.push(`line ${line + 1} ends in zeros, which are left out`);
        if (zeros > 0) take(last.subarray(0, zeros), items);
      } else if (last.length > 0) take(last, items);
      dropBroken();
      if (!started)
        throw new Fault('unreadable', `${name} is empty`, 'a recording is what run --record or rehearse leave behind');
      return items;
    },
    get mended() {
      return mended;
    },
  };
};

/** Items of a recording, a chunk of the file at a time; `onBytes` says how far it is. */
export async function* readRecording(
  path: string,
  { onBytes, onMended }: { onBytes?(bytes: number): void; onMended?(what: string): void } = {},
): AsyncGenerator<Item[]> {
  const parser = createRecordingParser(path);
  const file = createReadStream(path, { highWaterMark: 262_144 });
  let bytes = 0;
  try {
    for await (const chunk of file as AsyncIterable<Uint8Array>) {
      bytes += chunk.length;
      yield parser.push(chunk);
      onBytes?.(bytes);
    }
    yield parser.end();
  } catch (error) {
    const { code, message } = error as NodeJS.ErrnoException;
    if (!code || error instanceof Fault) throw error;
    const why = code === 'ENOENT' ? 'there is no such file' : code === 'EISDIR' ? 'it is a folder' : message;
    throw new Fault('unreadable', `${path}: can’t be read: ${why}`, 'check the path', { cause: error });
  }
  for (const what of parser.mended) onMended?.(what);
}
