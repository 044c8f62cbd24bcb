import * as z from 'zod/mini';
import { choice, flag, group, number, text, whole } from './setting.ts';

const gestureAction = ['none', 'picture', 'reprint', 'feed', 'load', 'new-roll', 'close'] as const;

/** A GPIO line: by its name on the chip, or by its offset. */
const line = (fallback: string | number | null, help: string) =>
  z
    ._default(
      z.nullable(z.union([z.int().check(z.minimum(0), z.maximum(1023)), z.string().check(z.maxLength(32))])),
      fallback,
    )
    .register(z.globalRegistry, {
      description: `${help} (offset on the chip, or the line's name; null: not fitted)`,
    });

/** A look: named parameters of the picture pipeline. See docs of `src/picture/looks.ts`. */
export const lookSchema = z.strictObject({
  levels: number(0.9, 0, 1, 'How far automatic levels stretch black and white points'),
  localContrast: number(0.45, 0, 1, 'Strength of contrast-limited local equalisation'),
  sharpen: number(0.6, 0, 3, 'Unsharp amount at dot size'),
  gamma: number(1, 0.3, 3, 'Exponent on linear light; below 1 is lighter'),
  contrast: number(1, 0.3, 3, 'Slope at middle grey'),
  invert: flag(false, 'Negative'),
  edges: number(0, 0, 1, 'How much of the picture is replaced by its edges (line look)'),
  halftone: choice(
    [
      'floyd-steinberg',
      'atkinson',
      'jarvis-judice-ninke',
      'stucki',
      'ostromoukhov',
      'zhou-fang',
      'bayer',
      'void-and-cluster',
      'clustered-dot',
      'threshold',
      'search',
    ],
    'search',
    'How tone becomes dots',
  ),
  grainDots: whole(1, 1, 8, 'Size of a grain in dots (coarse grain looks)', 'dots'),
});
export type Look = z.infer<typeof lookSchema>;

export const configSchema = z.strictObject({
  $schema: z.optional(z.string()),
  camera: group(
    {
      name: text('slip', 'Name of this camera, in captions', 20),
      mark: z
        ._default(z.string().check(z.regex(/^[A-Z0-9]{1,4}$/)), 'SLIP')
        .register(z.globalRegistry, { description: 'What the printed code calls this camera: 1 to 4 of A–Z and 0–9' }),
    },
    'The camera as a whole',
  ),
  gpio: group(
    {
      access: choice(['auto', 'chip', 'sysfs'], 'auto', 'Character device where there is one, or the older sysfs'),
      chip: text('gpiochip0', 'Chip in /dev, or the label of one'),
    },
    'How lines are reached',
  ),
  button: group(
    {
      line: line(17, 'Shutter button'),
      activeLow: flag(true, 'Pressed pulls the line to ground'),
      pull: choice(['up', 'down', 'off'], 'up', 'Bias of the line'),
      settleMs: number(8, 1, 100, 'Contact must be still this long to count', 'ms'),
      holdMs: whole(1200, 300, 10_000, 'Held this long is a hold', 'ms'),
      doubleMs: whole(350, 100, 1500, 'Two presses within this time are a double press', 'ms'),
    },
    'The shutter button',
  ),
  gestures: group(
    {
      press: choice(gestureAction, 'picture', 'What a press does'),
      hold: choice(gestureAction, 'load', 'What a long hold does'),
      double: choice(gestureAction, 'none', 'What a double press does; none: two presses are two presses'),
    },
    'What the button does',
  ),
  shutter: group(
    {
      line: line(27, 'Gate of the solenoid driver'),
      activeLow: flag(false, 'Low drives the coil'),
      pulseMs: number(25, 2, 200, 'Coil on for a click', 'ms'),
      longestPulseMs: number(60, 5, 500, 'Hard limit on one pulse', 'ms'),
      dutyPercent: number(15, 1, 50, 'Hard limit on time on within 10 s', '%'),
      bladesClearMs: number(20, 0, 500, 'After the coil lets go, blades cross the lens for this long', 'ms'),
      lockoutMs: whole(300, 0, 10_000, 'Least time from one picture to the next press', 'ms'),
    },
    'The shutter solenoid',
  ),
  webcam: group(
    {
      device: text('/dev/video0', 'V4L2 device'),
      format: choice(['auto', 'YUYV', 'GREY', 'MJPEG'], 'auto', 'Pixel format'),
      widthPx: whole(1280, 64, 8192, 'Frame width asked for', 'px'),
      heightPx: whole(720, 64, 8192, 'Frame height asked for', 'px'),
      framesPerSecond: whole(30, 1, 240, 'Frame rate asked for', 'Hz'),
      warmupFrames: whole(8, 0, 300, 'Frames let go before the first picture, for the exposure to settle'),
      frameTimeoutMs: whole(2000, 100, 20_000, 'Without a frame for this long the webcam counts as lost', 'ms'),
      powerLineHz: choice(['auto', '50', '60', 'off'], 'auto', 'Anti-flicker setting'),
      exposure: z
        ._default(z.nullable(z.number()), null)
        .register(z.globalRegistry, { description: 'Fixed exposure, null: automatic [100 µs]' }),
      gain: z
        ._default(z.nullable(z.number()), null)
        .register(z.globalRegistry, { description: 'Fixed gain, null: automatic' }),
      focus: z
        ._default(z.nullable(z.number()), null)
        .register(z.globalRegistry, { description: 'Fixed focus, null: automatic' }),
    },
    'The webcam',
  ),
  picture: group(
    {
      look: text('soft', 'Name of a look: a built-in one, or one of `looks`', 40),
      looks: z
        ._default(z.record(z.string().check(z.maxLength(40)), lookSchema), {})
        .register(z.globalRegistry, { description: 'Looks of your own' }),
      aspect: number(0.75, 0.2, 5, 'Width divided by height of the printed picture as it is held'),
      rotate: choice(['0', '90', '180', '270'], '0', 'Turn of the webcam in the body, clockwise degrees'),
      mirror: flag(false, 'Left and right exchanged'),
      along: flag(false, 'The picture lies along the paper, its width in the direction of travel'),
      border: choice(['none', 'line', 'frame'], 'none', 'Border printed around the picture'),
      caption: text('', 'Caption under the picture; {number}, {date}, {time}, {camera} are filled in', 60),
      burst: whole(1, 1, 4, 'Frames taken by one press; each is a picture of its own, printed one after the other'),
    },
    'From frame to dots',
  ),
  printer: group(
    {
      profile: text('panel-58mm', 'Printer profile: a built-in class or a file'),
      link: choice(['serial', 'usb', 'file'], 'serial', 'What the printer hangs on'),
      device: text('/dev/serial0', 'Port, USB printer device or file'),
      baud: whole(115_200, 1200, 4_000_000, 'Serial speed', 'Bd'),
      flow: choice(['none', 'xonxoff', 'rtscts'], 'none', 'Flow control the cable and printer really have'),
      rollOuterMm: number(40, 12, 120, 'Outer diameter of a new roll', 'mm'),
      rollCoreMm: number(12, 5, 60, 'Diameter of the core', 'mm'),
      paperUm: number(60, 30, 150, 'Thickness of the paper', 'µm'),
      imprint: flag(true, 'Print mark and number in the margin, by which strips are found again'),
    },
    'Printer and paper',
  ),
  queue: group(
    {
      longest: whole(3, 0, 50, 'Pictures that may wait while one prints; more presses are refused'),
    },
    'Pictures waiting for the printer',
  ),
  lamp: group(
    {
      line: line(22, 'Lamp line'),
      led: text('', 'Name of a LED in /sys/class/leds, instead of a line'),
    },
    'The lamp',
  ),
  motor: group(
    {
      inLine: line(23, 'H-bridge side that focuses in'),
      outLine: line(24, 'H-bridge side that focuses out'),
      deadMs: number(2, 0.1, 100, 'Both sides off before reversing', 'ms'),
      travelMs: whole(400, 10, 10_000, 'Longest drive in one direction', 'ms'),
      rack: flag(true, 'Rack the lens to and fro while the camera works'),
    },
    'The focus motor',
  ),
  supply: group(
    {
      sensor: text('', 'File that reads the battery voltage in µV (hwmon, power_supply); empty: not measured'),
      emptyVolts: number(6.4, 1, 60, 'Open voltage at which the battery is empty', 'V'),
      nominalVolts: number(7.4, 1, 60, 'Open voltage that head and coil see', 'V'),
      internalOhm: number(0.15, 0, 10, 'Internal and wiring resistance of the supply', 'Ω'),
      floorVolts: number(6.2, 1, 60, 'Under load the supply must not sag below this', 'V'),
      capacityWh: number(18.5, 0.1, 1000, 'Energy of the full battery', 'Wh'),
      boardWatts: number(2, 0.1, 50, 'What board and webcam draw', 'W'),
      coilOhm: number(12, 0.5, 1000, 'Resistance of the solenoid coil', 'Ω'),
      coilMh: number(20, 0.1, 1000, 'Inductance of the coil', 'mH'),
    },
    'Battery or adapter',
  ),
  album: group(
    {
      folder: text('/var/lib/slipshutter/album', 'Where pictures are kept'),
      leastFreeMb: whole(64, 1, 1_000_000, 'Room left free on the disk', 'MB'),
      whenFull: choice(
        ['keep', 'oldest-goes'],
        'keep',
        'keep: print without keeping, and say so; oldest-goes: the oldest pictures make room',
      ),
    },
    'Pictures kept on disk',
  ),
  log: group(
    {
      level: choice(['trace', 'debug', 'info', 'warn', 'error'], 'info', 'Least level that is written'),
    },
    'The log',
  ),
  watchdog: group(
    {
      device: text('', 'Hardware watchdog to feed (/dev/watchdog0); empty: none'),
      coilSupervisor: flag(true, 'A second thread lets the coil go if the program stalls'),
    },
    'What acts if the program itself fails',
  ),
});

export type Config = z.infer<typeof configSchema>;

/** Every setting at its default. */
export const defaultConfig = (): Config => configSchema.parse({});
