/**
 * Every event that the log may carry: its level, its fields with their units, and what it means. The reference in the
 * docs is generated from this table, and `Log` accepts nothing else.
 */
export const levels = ['trace', 'debug', 'info', 'warn', 'error'] as const;
export type Level = (typeof levels)[number];
type FieldType = 'number' | 'string' | 'boolean';
export interface FieldEntry {
  type: FieldType;
  unit?: string;
}
export interface EventEntry {
  level: Level;
  meaning: string;
  /** Told by what is around the machine, not by the machine: a replay doesn't say it again. */
  aside?: true;
  fields: Readonly<Record<string, FieldEntry>>;
}

const count = { type: 'number' } as const;
const us = { type: 'number', unit: 'µs' } as const;
const ms = { type: 'number', unit: 'ms' } as const;
const mm = { type: 'number', unit: 'mm' } as const;
const volts = { type: 'number', unit: 'V' } as const;
const word = { type: 'string' } as const;
const shot = count;

export const vocabulary = {
  start: {
    level: 'info',
    meaning: 'The program starts, so long after its process did',
    aside: true,
    fields: { version: word, config: word, nodeMs: ms },
  },
  ready: { level: 'info', meaning: 'The camera accepts a press', fields: { sinceStartMs: ms } },
  press: { level: 'info', meaning: 'A press was accepted as picture', fields: { shot, settledUs: us } },
  refused: { level: 'info', meaning: 'A press was not accepted', fields: { why: word } },
  gesture: { level: 'info', meaning: 'A gesture at the button', fields: { gesture: word, action: word } },
  coil: { level: 'info', meaning: 'The coil was energised', fields: { shot, pressToCoilUs: us, stroke: word } },
  frame: {
    level: 'info',
    meaning: 'A frame was chosen',
    fields: { shot, sequence: count, pressToFrameUs: us, digest: word },
  },
  kept: {
    level: 'info',
    meaning: 'The picture is safe in the album; the second click says so',
    fields: { shot, keepUs: us },
  },
  'not-kept': { level: 'error', meaning: 'The picture is in memory only', fields: { shot, why: word } },
  missed: { level: 'warn', meaning: 'No fit frame came for a press', fields: { shot, why: word } },
  developed: {
    level: 'info',
    meaning: 'Dots are ready',
    fields: { shot, developUs: us, inkPercent: { type: 'number', unit: '%' } },
  },
  'print-begun': { level: 'info', meaning: 'The first dots are on paper', fields: { shot, pressToDotUs: us } },
  'print-cut': { level: 'warn', meaning: 'A print stopped; it counts as not printed', fields: { shot, why: word } },
  printed: {
    level: 'info',
    meaning: 'The picture is on paper and at the tear edge',
    fields: { shot, printUs: us, paperLeftMm: mm, picturesLeft: count },
  },
  waiting: { level: 'warn', meaning: 'The printer can’t go on', fields: { why: word } },
  resumed: { level: 'info', meaning: 'The printer goes on', fields: { waitedMs: ms } },
  rest: { level: 'info', meaning: 'The head rests to cool', fields: { restMs: ms } },
  'near-end': { level: 'warn', meaning: 'Little paper is left', fields: { paperLeftMm: mm } },
  'webcam-lost': { level: 'warn', meaning: 'The webcam is gone', fields: { why: word } },
  'webcam-ready': { level: 'info', meaning: 'The webcam streams', fields: {} },
  'printer-lost': { level: 'warn', meaning: 'The printer is gone', fields: { why: word } },
  'printer-found': { level: 'info', meaning: 'The printer is there', fields: {} },
  'album-opened': { level: 'info', meaning: 'The journal was read', fields: { pending: count, nextShot: shot } },
  'album-trouble': { level: 'error', meaning: 'Pictures can’t be kept', fields: { why: word } },
  'album-healed': { level: 'info', meaning: 'Pictures are kept again', fields: {} },
  supply: {
    level: 'warn',
    meaning: 'The battery is low, or has recovered',
    fields: { volts, low: { type: 'boolean' } },
  },
  service: { level: 'info', meaning: 'Loading, jogging, closing', fields: { state: word } },
  'coil-fault': { level: 'error', meaning: 'The coil could not be driven', fields: { why: word } },
  'part-fault': { level: 'error', meaning: 'A part failed', fields: { part: word, why: word } },
  stalled: { level: 'warn', meaning: 'The event loop came late to a timer', aside: true, fields: { lateMs: ms } },
  dropped: {
    level: 'warn',
    meaning: 'Log lines that a slow console made us drop',
    aside: true,
    fields: { lines: count },
  },
  'clock-step': { level: 'info', meaning: 'The board learnt the time', fields: { stepMs: ms } },
  closing: { level: 'info', meaning: 'The program is asked to end', fields: { why: word } },
  closed: { level: 'info', meaning: 'Every part is let go', fields: { pending: count } },
} as const satisfies Record<string, EventEntry>;

export type EventName = keyof typeof vocabulary;

type ValueOf<T extends FieldType> = T extends 'number' ? number : T extends 'boolean' ? boolean : string;
export type FieldsOf<E extends EventName> = {
  [K in keyof (typeof vocabulary)[E]['fields']]: (typeof vocabulary)[E]['fields'][K] extends FieldEntry
    ? ValueOf<(typeof vocabulary)[E]['fields'][K]['type']>
    : never;
};

/** Writes one event. Never waits. */
export type Log = <E extends EventName>(event: E, fields: FieldsOf<E>) => void;
