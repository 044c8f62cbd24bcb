import { createHash } from 'node:crypto';
import type { Config } from '../config/schema.ts';
import type { Sink } from './inlet.ts';

export const recordingFormat = 'slipshutter-recording';
export const recordingVersion = 1;

/** First line of a recording. */
export interface RecordingHeader {
  format: typeof recordingFormat;
  version: typeof recordingVersion;
  /** ISO 8601, as the board believed. */
  startedAt: string;
  /** SHA-256 of the configuration, first 16 hexadecimal digits. */
  configHash: string;
  /** The configuration itself, so that a replay needs nothing else. */
  config: Config;
  /** Seed of a rehearsal; null on a board. */
  seed: number | null;
}

export const configHash = (config: Config): string =>
  createHash('sha256').update(JSON.stringify(config)).digest('hex').slice(0, 16);

export const headerOf = (config: Config, startedAtMs: number, seed: number | null): RecordingHeader => ({
  format: recordingFormat,
  version: recordingVersion,
  startedAt: new Date(startedAtMs).toISOString(),
  configHash: configHash(config),
  config,
  seed,
});

/** Writes a recording line by line: the header at once, then an input a line. */
export const createRecorder = (header: RecordingHeader, write: (line: string) => void): Sink => {
  write(`${JSON.stringify(header)}\n`);
  return (atUs, part, said) => write(`${JSON.stringify({ t: atUs, part, ...said })}\n`);
};

/** The newest inputs in memory, for a fault to be looked into: header and at most `longestBytes` of lines. */
export const createRing = (header: RecordingHeader, longestBytes = 4_000_000): { sink: Sink; text(): string } => {
  const lines: string[] = [];
  let first = 0;
  let bytes = 0;
  return {
    sink(atUs, part, said) {
      const line = `${JSON.stringify({ t: atUs, part, ...said })}\n`;
      lines.push(line);
      bytes += line.length;
      while (bytes > longestBytes && first < lines.length - 1) bytes -= lines[first++].length;
      if (first > 4096) {
        lines.splice(0, first);
        first = 0;
      }
    },
    text: () => `${JSON.stringify(header)}\n${lines.slice(first).join('')}`,
  };
};
