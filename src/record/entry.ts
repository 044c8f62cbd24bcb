import * as z from 'zod/mini';

/** Every input that a recording may hold, by part and kind. Times in µs since the start of that life of the program. */
const us = z.int().check(z.minimum(0));
/** Ten years: what is later was edited or damaged, and no camera runs that long. */
const latestUs = 10 * 365.25 * 86_400 * 1e6;
const t = z.int().check(z.minimum(0), z.maximum(latestUs));
const count = z.int().check(z.minimum(0));
const shot = z.int().check(z.minimum(1));
const why = z.string();
const digest = z.string().check(z.regex(/^[0-9a-f]{8}$/));
const mark = z.enum(['closing', 'printed']);
const frame = {
  sequence: count,
  exposureStartUs: us,
  exposureEndUs: us,
  format: z.enum(['YUYV', 'GREY', 'MJPEG']),
  widthPx: count,
  heightPx: count,
  strideBytes: count,
  range: z.enum(['limited', 'full']),
  digest: z.optional(digest),
};
const about = z.strictObject({ takenAtMs: z.nullable(z.number()), pressToFrameUs: z.number() });

const input = <P extends string, K extends string, S extends z.core.$ZodShape>(part: P, kind: K, shape: S) =>
  z.strictObject({ t, part: z.literal(part), kind: z.literal(kind), ...shape });
/** A call that the machine made at this moment and that threw: noted, not delivered. */
const threw = <P extends string>(part: P) => input(part, 'threw', { call: z.string(), why });
const service = <T extends string, S extends z.core.$ZodShape>(type: T, shape: S) =>
  z.strictObject({ t, part: z.literal('service'), type: z.literal(type), ...shape });

const schemas = [
  input('button', 'level', { down: z.boolean(), atUs: us }),
  input('shutter', 'released', { atUs: us }),
  input('webcam', 'ready', {}),
  input('webcam', 'lost', { why }),
  input('webcam', 'frame', frame),
  input('darkroom', 'developed', {
    shot,
    widthDots: count,
    heightDots: count,
    strideBytes: count,
    dots: z.string().check(z.regex(/^[A-Za-z0-9+/]*={0,2}$/)),
  }),
  input('darkroom', 'failed', { shot, why }),
  input('printer', 'found', {}),
  input('printer', 'lost', { why }),
  input('printer', 'bytes', { hex: z.string().check(z.regex(/^([0-9a-f]{2})*$/)) }),
  /** So many bytes had been written to the printer by then, and the CRC-32 of all of them. */
  input('printer', 'drained', { bytes: count, digest }),
  input('printer', 'held', { held: z.boolean() }),
  input('printer', 'port-status', { paperOut: z.boolean(), error: z.boolean() }),
  input('album', 'opened', {
    pending: z.array(z.strictObject({ shot, mark: z.enum(['kept', 'closing']) })),
    nextShot: shot,
    paperUsedMm: z.number(),
  }),
  input('album', 'trouble', { why }),
  input('album', 'healed', {}),
  input('album', 'asked', { shot }),
  input('album', 'kept', { shot }),
  input('album', 'not-kept', { shot, why }),
  input('album', 'marked', { shot, mark }),
  input('album', 'not-marked', { shot, mark, why }),
  input('album', 'recalled', { shot, about, ...frame }),
  input('album', 'not-recalled', { shot, why }),
  input('supply', 'voltage', { volts: z.number(), low: z.boolean() }),
  input('clock', 'stepped', { stepMs: z.number() }),
  input('clock', 'end', {}),
  threw('button'),
  threw('shutter'),
  threw('webcam'),
  threw('darkroom'),
  threw('printer'),
  threw('lamp'),
  threw('motor'),
  threw('album'),
  threw('supply'),
  service('service.jog', { mm: z.number() }),
  service('service.load', {}),
  service('service.loaded', {}),
  service('service.new-roll', {}),
  service('service.reprint', {}),
  service('service.close', { why }),
] as const;

export type Entry = z.infer<(typeof schemas)[number]>;
export type EntryOf<P extends Entry['part'], K extends string> = Extract<Entry, { part: P; kind: K }>;
export type FrameFields = EntryOf<'webcam', 'frame'>;

const keyOf = (line: { part?: unknown; kind?: unknown; type?: unknown }): string =>
  `${line.part} ${line.part === 'service' ? line.type : line.kind}`;
const byKey = new Map<string, z.ZodMiniType>();
for (const schema of schemas) {
  const { part, ...rest } = schema._zod.def.shape as Record<string, z.core.$ZodType>;
  const literal = (type: z.core.$ZodType | undefined) => (type as z.ZodMiniLiteral | undefined)?._zod.def.values[0];
  byKey.set(keyOf({ part: literal(part), kind: literal(rest.kind), type: literal(rest.type) }), schema);
}
const parts = new Set([...byKey.keys()].map(key => key.split(' ')[0]));

const issueInWords = ({ path, ...issue }: z.core.$ZodIssue): string => {
  const name = path.join('.');
  if (issue.code === 'unrecognized_keys') return `there is no '${issue.keys.join("', '")}' in it`;
  if (issue.code === 'invalid_type') return `'${name}' is missing or no ${issue.expected}`;
  if (issue.code === 'invalid_value') return `'${name}' isn’t one of ${issue.values.join(', ')}`;
  if (issue.code === 'too_small') return `'${name}' is less than ${issue.minimum}`;
  if (issue.code === 'too_big') return `'${name}' is more than ${issue.maximum}${name === 't' ? ' µs, ten years' : ''}`;
  return `'${name}' is not what it should be`;
};

/** A line of a recording as an input, or what is wrong with it. */
export const checkEntry = (line: Record<string, unknown>): Entry | string => {
  const key = keyOf(line);
  const schema = byKey.get(key);
  if (!schema) {
    if (!parts.has(String(line.part))) return `there is no part called ${JSON.stringify(line.part) ?? 'nothing'}`;
    return `${line.part} never says ${JSON.stringify(line.part === 'service' ? line.type : line.kind) ?? 'nothing'}`;
  }
  const { success, error } = schema.safeParse(line);
  return success ? (line as Entry) : `${key}: ${issueInWords(error.issues[0])}`;
};
