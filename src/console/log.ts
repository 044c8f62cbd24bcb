import pino from 'pino';
import type { Clock } from '../parts/clock.ts';
import { type Level, type Log, vocabulary } from './vocabulary.ts';

export interface LogOptions {
  clock: Clock;
  level: Level;
  /** Takes whole lines, each with its line feed. Must not block: see `createOutlet`. */
  destination: { write(line: string): void };
}

/**
 * The log: one JSON object a line, made by pino: `level`, `time` (wall, ms), `mono` (µs on the machine's clock), `event`,
 * then that event's fields as the vocabulary has them.
 */
export const createLog = ({ clock, level, destination }: LogOptions): Log => {
  const logger = pino(
    {
      base: null,
      level,
      timestamp: () => `,"time":${clock.wallMs()}`,
      formatters: { level: label => ({ level: label }) },
    },
    destination,
  );
  return (event, fields) => logger[vocabulary[event].level]({ mono: clock.nowUs(), event, ...fields });
};
