import { closeSync, createReadStream, openSync, statSync, writeSync } from 'node:fs';
import type { Readable } from 'node:stream';
import { createBootWatch } from '../console/boot.ts';
import { bootReport } from '../console/boot-report.ts';
import { createPictureJoiner } from '../console/read/pictures.ts';
import { createConsoleParser, type Heard } from '../console/read/stream.ts';
import { createView } from '../console/view.ts';
import { type Level, levels } from '../console/vocabulary.ts';
import { Fault } from '../parts/fault.ts';
import type { Command, Given, Io } from './command.ts';
import { textOption } from './given.ts';

const units: Record<string, number> = { s: 1000, m: 60_000, h: 3_600_000, d: 86_400_000 };

/** `10m` ago, `14:30` today, or a date as in ISO 8601; ms since 1970. */
export const parseSince = (words: string, nowMs: number): number => {
  const ago = /^(\d+(?:\.\d+)?)([smhd])$/.exec(words);
  if (ago) return nowMs - Number(ago[1]) * units[ago[2]];
  const clock = /^([01]?\d|2[0-3]):([0-5]\d)(?::([0-5]\d))?$/.exec(words);
  if (clock) return new Date(nowMs).setHours(Number(clock[1]), Number(clock[2]), Number(clock[3] ?? 0), 0);
  const date = Date.parse(words);
  if (!Number.isNaN(date)) return date;
  throw new Fault('usage', `--since ${words}: no time`, 'for instance 10m, 2h, 14:30 or 2026-06-20T18:00');
};

const parseBaud = (words: string | undefined): number | null => {
  if (words === undefined) return null;
  const baud = Number(words);
  if (!/^\d+$/.test(words) || baud < 50 || baud > 12_000_000)
    throw new Fault('usage', `--baud ${words}: no speed`, 'a whole number such as 9600, 115200 or 1000000');
  return baud;
};

const parseLevel = (words: string | undefined): Level => {
  if (words === undefined) return 'info';
  const level = levels.find(one => one === words);
  if (level) return level;
  throw new Fault('usage', `--level ${words}: no level`, `one of ${levels.join(', ')}`);
};

interface Listener {
  take(heard: Heard): void;
  end(): void;
}

const readable = (io: Io, sinceMs: number | undefined, level: Level): Listener => {
  const view = createView({ colour: io.outIsTerminal, level, sinceMs });
  const say = (lines: readonly string[]) => {
    if (lines.length > 0) io.out(`${lines.join('\n')}\n`);
  };
  return { take: heard => say(view.take(heard)), end: () => say(view.end()) };
};

/** One JSON object a picture, and one for every record that is no part of one. */
const asJson = (io: Io, sinceMs: number | undefined, level: Level): Listener => {
  const joiner = createPictureJoiner();
  const least = levels.indexOf(level);
  const put = (kind: string, what: object) => io.out(`${JSON.stringify({ kind, ...what })}\n`);
  return {
    take(heard) {
      if (heard.kind !== 'own') return;
      const { record } = heard;
      const picture = joiner.take(record);
      if (sinceMs !== undefined && record.time < sinceMs) return;
      if (picture) put('picture', picture);
      else if (record.shot === undefined || record.level === 'warn' || record.level === 'error')
        if (levels.indexOf(record.level) >= least) put('event', record);
    },
    end() {
      for (const picture of joiner.pending()) put('picture', picture);
    },
  };
};

const bootsOnly = (io: Io, baud: number | null, json: boolean): Listener => {
  const watch = createBootWatch();
  let told = 0;
  const tell = (boot: ReturnType<typeof watch.end>) => {
    if (!boot) return;
    if (json) io.out(`${JSON.stringify(boot)}\n`);
    else io.out(`${told > 0 ? '\n' : ''}${bootReport(boot, { baud, colour: io.outIsTerminal })}`);
    told++;
  };
  return {
    take: heard => tell(watch.take(heard)),
    end() {
      tell(watch.end());
      if (told === 0) io.err('no boot was heard: neither stamps of a kernel nor lines of the camera\n');
    },
  };
};

const openRaw = (path: string): number => {
  try {
    return openSync(path, 'wx', 0o640);
  } catch (error) {
    const exists = (error as NodeJS.ErrnoException).code === 'EEXIST';
    throw new Fault(
      'unwritable',
      `--raw ${path}: ${exists ? 'is there already' : (error as Error).message}`,
      'give the name of a new file',
      { cause: error },
    );
  }
};

/** Everything that a stream gives, until it ends or the person has enough of it. */
const readThrough = async (stream: NodeJS.ReadableStream, name: string, io: Io, heard: (bytes: Uint8Array) => void) => {
  const stop = () => (stream as Readable).destroy();
  if (io.signal.aborted) stop();
  io.signal.addEventListener('abort', stop, { once: true });
  try {
    for await (const chunk of stream) heard(typeof chunk === 'string' ? Buffer.from(chunk) : chunk);
  } catch (error) {
    const { code, message } = error as NodeJS.ErrnoException;
    if (io.signal.aborted || code === 'ERR_STREAM_PREMATURE_CLOSE') return;
    if (!code || error instanceof Fault) throw error;
    throw new Fault('unreadable', `${name}: can’t be read: ${message}`, 'check the path', { cause: error });
  } finally {
    io.signal.removeEventListener('abort', stop);
  }
};

const run = async (given: Given, io: Io): Promise<number> => {
  const [source, ...more] = given.positionals;
  if (source === undefined || more.length > 0)
    throw new Fault('usage', 'one port, file or - is listened to', 'for instance slipshutter listen /dev/ttyUSB0');
  const baud = parseBaud(textOption(given, 'baud'));
  const level = parseLevel(textOption(given, 'level'));
  const since = textOption(given, 'since');
  const sinceMs = since === undefined ? undefined : parseSince(since, Date.now());
  const json = given.values.json === true;

  const isPort = source !== '-' && isDevice(source);
  const raw = textOption(given, 'raw');
  const rawFd = raw === undefined ? null : openRaw(raw);
  const listener = given.values.boot
    ? bootsOnly(io, baud, json)
    : json
      ? asJson(io, sinceMs, level)
      : readable(io, sinceMs, level);
  const parser = createConsoleParser();
  const heard = (bytes: Uint8Array) => {
    if (rawFd !== null) writeSync(rawFd, bytes);
    for (const one of parser.push(bytes)) listener.take(one);
  };
  const ended = () => {
    for (const one of parser.end()) listener.take(one);
  };

  try {
    if (source === '-') await readThrough(io.stdin, 'the input', io, heard);
    else if (isPort) {
      const { followPort } = await import('../console/port.ts');
      await followPort({
        path: source,
        baud: baud ?? 115_200,
        signal: io.signal,
        heard,
        told(what, why) {
          if (what === 'lost') ended();
          if (io.errIsTerminal)
            io.err(
              what === 'open'
                ? `listening to ${source} at ${baud ?? 115_200} Bd; ^C ends\n`
                : `${source} is gone (${why}): waiting for it\n`,
            );
        },
      });
    } else await readThrough(createReadStream(source, { highWaterMark: 262_144 }), source, io, heard);
    ended();
    listener.end();
  } finally {
    if (rawFd !== null) closeSync(rawFd);
  }
  return 0;
};

/** Whether it is a port; throws a `Fault` for a path that is nothing to listen to. */
const isDevice = (path: string): boolean => {
  try {
    const stat = statSync(path);
    if (stat.isDirectory()) throw new Fault('unreadable', `${path} is a folder`, 'give a port, a file or -');
    return stat.isCharacterDevice();
  } catch (error) {
    if (error instanceof Fault) throw error;
    const { code, message } = error as NodeJS.ErrnoException;
    throw new Fault(
      'unreadable',
      `${path}: ${code === 'ENOENT' ? 'there is no such port or file' : message}`,
      'give a port such as /dev/ttyUSB0, a file, or - for the input',
      { cause: error },
    );
  }
};

const command: Command = {
  name: 'listen',
  summary: 'a serial console made readable',
  usage: 'PORT | FILE | -',
  detail: `Shows a line a picture, faults in plain words, and of everything else how much there was. Columns count from the press:
coil (the click), frame (end of its exposure), developed (how long that took), first dot, printed (how long that took).
A port is opened again when it comes back, and left as it was.

  slipshutter listen /dev/ttyUSB0 --raw party.raw
  slipshutter listen party.raw --level warn
  slipshutter listen party.raw --boot
`,
  options: {
    baud: { type: 'string', value: 'N', help: 'speed of the port (115200); for --boot, what the console ran at' },
    level: {
      type: 'string',
      value: 'LEVEL',
      help: 'least level shown (info); debug shows every line of kernel and services',
    },
    since: { type: 'string', value: 'TIME', help: 'only from then on: 10m, 2h, 14:30, 2026-06-20T18:00' },
    raw: { type: 'string', value: 'FILE', help: 'keep every byte as it came, in a new file' },
    boot: { type: 'boolean', help: 'where the time of a boot went, and what the console cost of it' },
    json: { type: 'boolean', help: 'one JSON object a picture, fault or boot' },
  },
  run,
};
export default command;
