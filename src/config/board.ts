import * as z from 'zod/mini';

/** A device file or folder as the board shows it. */
const node = z.strictObject({
  there: z._default(z.boolean(), true),
  /** What it really is, where it is a link: `/dev/serial0` → `/dev/ttyS0`. */
  real: z.optional(z.string()),
  owner: z._default(z.string(), 'root'),
  group: z._default(z.string(), 'root'),
  /** Permissions as `ls` and `chmod` count them, octal. */
  mode: z._default(z.string().check(z.regex(/^0?[0-7]{3,4}$/)), '0660'),
});

const mode = z.strictObject({
  format: z.enum(['YUYV', 'GREY', 'MJPEG']),
  widthPx: z.int().check(z.positive()),
  heightPx: z.int().check(z.positive()),
  /** Fastest rate; null where the driver doesn't say. */
  framesPerSecond: z._default(z.nullable(z.number()), null),
});

const line = z.strictObject({
  offset: z.int().check(z.minimum(0)),
  name: z._default(z.string(), ''),
  /** Who has it; '' when it is free. */
  user: z._default(z.string(), ''),
});

/** What `check` needs to know of a board. Whatever is left out isn't known, and nothing is said of it. */
export const boardSchema = z.strictObject({
  $schema: z.optional(z.string()),
  title: z._default(z.string().check(z.maxLength(100)), 'a board'),
  /** Kernel command line, as in /proc/cmdline; its `console=` words are enough. */
  commandLine: z._default(z.string().check(z.maxLength(4096)), ''),
  /** Who runs the camera. */
  user: z.optional(z.strictObject({ name: z.string(), groups: z.array(z.string()) })),
  chips: z.optional(
    z.array(z.strictObject({ name: z.string(), label: z._default(z.string(), ''), lines: z.array(line) })),
  ),
  /** Whether the chips can be had by the older way, below /sys/class/gpio. */
  sysfsGpio: z.optional(z.boolean()),
  /** LEDs below /sys/class/leds. */
  leds: z.optional(z.array(z.string())),
  /** Device files and folders by path. */
  nodes: z._default(z.record(z.string(), node), {}),
  webcam: z.optional(z.strictObject({ card: z._default(z.string(), ''), modes: z.array(mode) })),
  /** Native packages that load. */
  packages: z.optional(z.array(z.string())),
  /** Whether the processor runs WebAssembly with SIMD, which pictures are made by. */
  simd: z.optional(z.boolean()),
  disk: z.optional(z.strictObject({ freeMb: z.number(), readOnly: z._default(z.boolean(), false) })),
  clock: z.optional(
    z.strictObject({
      year: z.int(),
      synchronised: z._default(z.nullable(z.boolean()), null),
      /** A clock that runs while the board is off. */
      hardware: z._default(z.boolean(), false),
    }),
  ),
});

export type BoardFacts = z.infer<typeof boardSchema>;
export type BoardNode = z.infer<typeof node>;
