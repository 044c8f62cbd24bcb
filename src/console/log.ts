import { pino } from 'pino';
import type { Clock } from '../parts/clock.ts';
import { type Level, type Log, vocabulary } from './vocabulary.ts';

export interface LogOptions {
  clock: Clock;
  level: Level;
  /** Takes whole lines, each with its line feed. Must not block: see `createOutlet`. */
  destination: { write(line: string): void };
  /** Monotonic time of the board when its logical clock started, µs: `mono` counts from the boot. */
  startedMonoUs?: number;
}

/**
 * The log: one JSON object a line, made by pino: `level`, `time` (wall, ms), `mono` (µs since boot), `event`, then that
 * event's fields as the vocabulary has them. Nothing else is in it, so that the same run writes the same bytes.
 */
export const createLog = ({ clock, level, destination, startedMonoUs = 0 }: LogOptions): Log => {
  const logger = pino(
    {
      base: null,
      level,
      timestamp: () => `,"time":${clock.wallMs()},"mono":${startedMonoUs + clock.nowUs()}`,
      formatters: { level: label => ({ level: label }) },
    },
    destination,
  );
  return (event, fields) => logger[vocabulary[event].level]({ event, ...fields });
};
