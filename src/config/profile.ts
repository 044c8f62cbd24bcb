import * as z from 'zod/mini';
import { choice, flag, group, number, text, whole } from './setting.ts';

/** A class of printer: its numbers and its quirks. Files in `config/profiles/`. */
export const profileSchema = z.strictObject({
  $schema: z.optional(z.string()),
  title: text('', 'Class of the printer in words', 80),
  widthDots: whole(384, 64, 1280, 'Dots across', 'dots'),
  dotsPerMm: number(8, 4, 24, 'Dots a millimetre, across and along', '1/mm'),
  bufferBytes: whole(256, 16, 1_000_000, 'Receive buffer that can be relied on', 'B'),
  commands: group(
    {
      image: choice(['raster', 'column', 'graphics'], 'raster', 'How pictures are sent'),
      rasterRows: whole(24, 1, 2048, 'Rows in one raster command at most', 'rows'),
      heat: choice(['none', 'panel'], 'panel', 'Whether the heat command of the panel class (1B 37) is known'),
      density: choice(['none', 'panel'], 'none', 'Whether the density command of the panel class (12 23) is known'),
      motionUnits: flag(false, 'Whether feed steps must first be set to dot lines (1D 50)'),
      reverse: flag(false, 'Whether paper can be fed back'),
      status: choice(['none', 'polled', 'automatic'], 'polled', 'How status is had: 10 04 n, or 1D 61 n'),
      sleep: flag(false, 'Whether the sleep command (1B 38) is known'),
    },
    'What of the control language the printer knows',
  ),
  ownSupply: flag(false, 'Whether the printer has an adapter of its own, so that its head doesn’t load the battery'),
  head: group(
    {
      dotsAtOnce: whole(64, 8, 1280, 'Dots heated at once at most', 'dots'),
      heatingUs: number(800, 30, 2550, 'Heating time of a dot at 25 °C, 10 µs steps', 'µs'),
      intervalUs: number(20, 0, 2550, 'Interval between groups, 10 µs steps', 'µs'),
      elementOhm: number(176, 10, 2000, 'Resistance of a heating element', 'Ω'),
      volts: number(7.4, 3, 36, 'Voltage that the heating time is meant for', 'V'),
      ambientC: number(25, -20, 60, 'Temperature that the heating time is meant for', '°C'),
      compensationPerC: number(
        0.0075,
        0,
        0.05,
        'Part of the heating energy to leave off for each °C that the head is warmer',
        '1/K',
      ),
      kelvinPerWatt: number(6, 0.1, 100, 'Warming of the head for each watt, at rest', 'K/W'),
      timeConstantS: number(25, 0.5, 600, 'Time constant of the head’s cooling', 's'),
      hotC: number(65, 40, 100, 'Warmest head at which a picture is begun or continued', '°C'),
      averageWatts: number(6, 0.1, 100, 'Mean head power at most', 'W'),
    },
    'The thermal head',
  ),
  motor: group(
    {
      mmPerS: number(50, 2, 300, 'Fastest paper speed', 'mm/s'),
      slowestMmPerS: number(2, 0.1, 50, 'Slowest speed at which the paper still moves evenly', 'mm/s'),
    },
    'The paper motor',
  ),
  tearMm: number(14, 0, 60, 'From the heating line to the tear edge', 'mm'),
  quirks: group(
    {
      powerUpMs: whole(500, 0, 10_000, 'Rest after power-up before the first byte', 'ms'),
      sleepsAfterS: whole(0, 0, 3600, 'Sleeps by itself after this time; 0: never', 's'),
      densityFieldsSwapped: flag(false, 'Density and break time change places in 12 23 n'),
      ignoresReverse: flag(false, 'Accepts the reverse feed and does nothing'),
      slowerByPercent: number(
        0,
        0,
        3,
        'By how much it may be slower than its numbers where nothing says stop; costs speed on slow lines',
        '%',
      ),
    },
    'Where the printer is not as its manual says',
  ),
  dotRadius: number(0.65, 0.5, 1.2, 'Radius of a printed dot in units of the pitch; round dots overlap'),
  toneCurve: z
    ._default(z.array(z.tuple([z.number(), z.number()])).check(z.maxLength(64)), [])
    .register(z.globalRegistry, {
      description: 'Measured ink for dots asked, pairs 0…1, from `wedge read`; empty: from the dot radius',
    }),
});

export type Profile = z.infer<typeof profileSchema>;

export const defaultProfile = (): Profile => profileSchema.parse({});
