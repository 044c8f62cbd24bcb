import type { Profile } from '../config/profile.ts';
import type { Config } from '../config/schema.ts';
import type { Dots } from '../parts/darkroom.ts';
import type { Frame } from '../parts/webcam.ts';
import { knownDigest } from './digest.ts';
import { type Said, type Sink, unheard } from './inlet.ts';

export const recordingFormat = 'slipshutter-recording';
export const recordingVersion = 1;

/** First line of each life of the program in a recording; everything that a replay needs beside the inputs. */
export interface RecordingHeader {
  format: typeof recordingFormat;
  version: typeof recordingVersion;
  /** Wall time at `t` 0, ISO 8601 in milliseconds, as the board believed. */
  startedAt: string;
  /** What the log's `mono` was at `t` 0, µs. */
  startedMonoUs: number;
  /** Of `config` and `profile`, see `hashOf`. */
  configHash: string;
  config: Config;
  profile: Profile;
  /** Whether the shutter says when the coil was really let go: it then is waited for. */
  shutterSays: boolean;
  /** Seed of a rehearsal; null on a board. */
  seed: number | null;
  /** Inputs after the header that were let go because the ring was full: it can be read, but not replayed. */
  lost?: number;
}

/** First 16 hexadecimal digits of SHA-256 over the settings as JSON. */
export const hashOf = (config: Config, profile: Profile): string => {
  // Loaded when it is asked for: a start whose settings are known by their hash already does without.
  const { createHash } = process.getBuiltinModule('node:crypto');
  return createHash('sha256')
    .update(JSON.stringify([config, profile]))
    .digest('hex')
    .slice(0, 16);
};

export interface HeaderFacts {
  config: Config;
  profile: Profile;
  startedAtMs: number;
  startedMonoUs?: number;
  shutterSays: boolean;
  seed?: number | null;
  /** `hashOf` these settings, where it is known. */
  configHash?: string;
}

export const headerOf = ({ config, profile, startedAtMs, ...facts }: HeaderFacts): RecordingHeader => ({
  format: recordingFormat,
  version: recordingVersion,
  startedAt: new Date(startedAtMs).toISOString(),
  startedMonoUs: facts.startedMonoUs ?? 0,
  configHash: facts.configHash ?? hashOf(config, profile),
  config,
  profile,
  shutterSays: facts.shutterSays,
  seed: facts.seed ?? null,
});

const frameFields = (frame: Frame): Said => {
  const { sequence, exposureStartUs, exposureEndUs, format, widthPx, heightPx, strideBytes, range } = frame;
  const digest = knownDigest(frame);
  return { sequence, exposureStartUs, exposureEndUs, format, widthPx, heightPx, strideBytes, range, digest };
};
const dotsFields = ({ widthDots, heightDots, strideBytes, data }: Dots): Said => ({
  widthDots,
  heightDots,
  strideBytes,
  dots: Buffer.from(data.buffer, data.byteOffset, data.byteLength).toString('base64'),
});

const fieldsOf = (said: Said): Said => {
  const { frame, dots, bytes, ...rest } = said;
  if (frame) Object.assign(rest, frameFields(frame as Frame));
  if (dots) Object.assign(rest, dotsFields(dots as Dots));
  if (bytes instanceof Uint8Array)
    rest.hex = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength).toString('hex');
  else if (bytes !== undefined) rest.bytes = bytes;
  return rest;
};

export interface Recorder {
  /** Takes one input; hand it to the inlet. */
  sink: Sink;
  /** Writes what is held back. */
  flush(): void;
  /** The program ends here, by its own will. */
  end(atUs: number): void;
}

export interface RecorderOptions {
  header: RecordingHeader;
  /** Takes a whole line with its line feed; must not block. */
  write(line: string): void;
}

/**
 * Writes a recording line by line: the header at once, then an input a line. A frame's line is held back until the next
 * input: its digest is in it if the machine looked at the frame, and nobody else pays for one.
 */
export const createRecorder = ({ header, write }: RecorderOptions): Recorder => {
  let held: { atUs: number; part: string; said: Said } | null = null;
  const put = (atUs: number, part: string, said: Said) =>
    write(`${JSON.stringify({ t: atUs, part, ...fieldsOf(said) })}\n`);
  const flush = () => {
    if (!held) return;
    const { atUs, part, said } = held;
    held = null;
    put(atUs, part, said);
  };
  write(`${JSON.stringify(header)}\n`);
  return {
    sink(atUs, part, said) {
      flush();
      if (part === 'disk' || said[unheard]?.()) return;
      if (said.frame) held = { atUs, part, said };
      else put(atUs, part, said);
    },
    flush,
    end(atUs) {
      flush();
      put(atUs, 'clock', { kind: 'end' });
    },
  };
};
