import { type EventEntry, type EventName, type Level, vocabulary } from '../vocabulary.ts';

/** A line of our log, as it was read. */
export interface LogRecord {
  level: Level;
  /** Wall time, ms since 1970. */
  time: number;
  /** µs since boot. */
  mono: number;
  event: EventName;
  shot?: number;
  [field: string]: unknown;
}

/** How every line of ours begins. */
export const ownStart = '{"level":"';

const levels: readonly string[] = ['trace', 'debug', 'info', 'warn', 'error', 'fatal'];
const decoder = new TextDecoder('utf-8', { fatal: true });

/** Controls, and bytes that aren't UTF-8, come from the wire, not from us: JSON writes the ones as escapes. */
const decode = (latin1: string): string | null => {
  if (!/[^ -\x7f]/.test(latin1)) return latin1;
  if (/\p{Cc}/u.test(latin1.replace(/[\x7f-\x9f]/g, ''))) return null;
  try {
    return decoder.decode(Buffer.from(latin1, 'latin1'));
  } catch {
    return null;
  }
};

/** Has the form of our log, whether this version knows the event or not. */
const hasForm = (value: unknown): value is Record<string, unknown> & { event: string } => {
  if (typeof value !== 'object' || value === null) return false;
  const { level, time, mono, event } = value as Record<string, unknown>;
  return (
    levels.includes(level as string) &&
    typeof event === 'string' &&
    Number.isSafeInteger(time) &&
    Number.isSafeInteger(mono)
  );
};
/** level, time, mono, event. */
const commonFields = 4;
const fieldTypes = new Map(
  Object.entries(vocabulary as Record<string, EventEntry>).map(([event, { fields }]) => [
    event,
    Object.entries(fields).map(([name, { type }]) => [name, type] as const),
  ]),
);
/** Every field of its event and none beside: a line that was put together wrongly is not likely to pass. */
const isRecord = (value: unknown): value is LogRecord => {
  if (!hasForm(value)) return false;
  const types = fieldTypes.get(value.event);
  if (!types) return false;
  for (const [name, type] of types) if (typeof value[name] !== type && value[name] !== null) return false;
  let count = 0;
  for (const _ in value) count++;
  return count === types.length + commonFields;
};

const parse = (latin1: string): unknown => {
  const text = decode(latin1);
  if (text === null) return null;
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
};

/** The record that a text (one character a byte) is, or null where it isn't one. */
export const readOwn = (latin1: string): LogRecord | null => {
  const value = parse(latin1);
  return isRecord(value) ? value : null;
};

/** A whole line in the form of our log whose event or fields this version doesn't know, as text; null where it isn't. */
export const readUnknown = (latin1: string): string | null => {
  const value = parse(latin1);
  return hasForm(value) && !isRecord(value) ? JSON.stringify(value) : null;
};

/**
 * Where the object that begins at `from` ends, behind its closing brace; -1 where it doesn't. Ours are flat, so a brace
 * outside of a string is the last one.
 */
export const ownEnd = (text: string, from: number): number => {
  let inString = false;
  for (let at = from; at < text.length; at++) {
    const char = text.charCodeAt(at);
    if (inString) {
      if (char === 0x5c) at++;
      else if (char === 0x22) inString = false;
    } else if (char === 0x22) inString = true;
    else if (char === 0x7d) return at + 1;
  }
  return -1;
};
