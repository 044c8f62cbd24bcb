import type { Profile } from '../../config/profile.ts';
import type { Config } from '../../config/schema.ts';
import { marginMm } from '../../print/imprint.ts';
import { pictureLengthMm } from '../../roll/roll.ts';
import type { Quantity } from './sheet.ts';

/** What a sheet may use: the configuration, the printer's profile, and figures that neither holds. */
export interface Given {
  config: Config;
  profile: Profile;
  extras: Readonly<Record<string, number>>;
}

/** A figure that the configuration doesn't hold, with a usual value and a range. */
export interface Extra {
  fallback: number;
  least: number;
  most: number;
  unit: string;
  help: string;
}

const extra = (fallback: number, least: number, most: number, unit: string, help: string): Extra => ({
  fallback,
  least,
  most,
  unit,
  help,
});

export const extras = {
  ink: extra(0.3, 0.01, 1, '', 'share of black dots in a picture'),
  picturesPerHour: extra(30, 0, 2000, '1/h', 'pictures an hour'),
  efficiency: extra(0.85, 0.1, 1, '', 'efficiency of the converter between battery and board'),
  seriesCells: extra(2, 1, 20, '', 'cells in series'),
  parallelCells: extra(1, 1, 20, '', 'such rows of cells in parallel'),
  cellMohm: extra(50, 1, 1000, 'mΩ', 'internal resistance of one cell: (open voltage − loaded voltage)/current'),
  wiringMohm: extra(50, 0, 5000, 'mΩ', 'wires, fuse, switch and plugs, there and back'),
  paperMj: extra(0.3, 0.05, 2, 'mJ', 'what one dot of the paper needs at 25 °C'),
  paperMjPerC: extra(0.0035, 0, 0.02, 'mJ/°C', 'by how much less it needs for each degree more'),
  headC: extra(25, -20, 80, '°C', 'temperature of the head'),
  coilRiseK: extra(60, 0, 150, 'K', 'warming of the winding to reckon with'),
  coilKelvinPerWatt: extra(25, 1, 200, 'K/W', 'warming of the winding for each watt, from memory: measure yours'),
  holdAmps: extra(0.2, 0.001, 20, 'A', 'current at which the armature falls back'),
  pullInAmps: extra(0.4, 0.001, 20, 'A', 'current at which the armature pulls in'),
  diodeVolts: extra(0.7, 0.1, 5, 'V', 'forward voltage of the diode across the coil'),
  zenerVolts: extra(24, 0, 200, 'V', 'zener voltage in series with that diode'),
  gateVolts: extra(3.3, 1, 15, 'V', 'voltage that the board’s line gives the gate'),
  onMohm: extra(30, 1, 5000, 'mΩ', 'on-resistance of the MOSFET at that gate voltage'),
  bootBytes: extra(10_368, 0, 10_000_000, 'B', 'boot messages on the serial console'),
  consoleBaud: extra(115_200, 1200, 4_000_000, 'Bd', 'speed of the serial console'),
} as const satisfies Record<string, Extra>;

export type ExtraName = keyof typeof extras;
/** Lengths that are reckoned from configuration and profile, unless they are given. */
export const lengths = { pictureMm: { least: 5, most: 2000 }, marginMm: { least: 0, most: 200 } };

/** Reads inputs by name and keeps the list of those that were used. */
export const createReader = ({ config, profile, extras: given }: Given) => {
  const used: Quantity[] = [];
  const note = (name: string, value: number, unit: string, help: string): number => {
    if (!used.some(one => one.name === name)) used.push({ name, value, unit, help });
    return value;
  };
  return {
    used,
    /** A figure of the configuration, by group and key. */
    config<G extends 'supply' | 'shutter' | 'printer'>(
      group: G,
      key: keyof Config[G] & string,
      unit: string,
      help: string,
    ) {
      return note(`${group}.${key}`, config[group][key] as number, unit, help);
    },
    head(key: keyof Profile['head'], unit: string, help: string) {
      return note(`profile.head.${key}`, profile.head[key], unit, help);
    },
    profile(key: 'widthDots' | 'dotsPerMm' | 'tearMm' | 'bufferBytes', unit: string, help: string) {
      return note(`profile.${key}`, profile[key], unit, help);
    },
    motor(key: keyof Profile['motor'], unit: string, help: string) {
      return note(`profile.motor.${key}`, profile.motor[key], unit, help);
    },
    extra(name: ExtraName) {
      const { unit, help, fallback } = extras[name];
      return note(name, given[name] ?? fallback, unit, help);
    },
    /** Length of the printed picture along the paper, mm: as configured, or as given. */
    pictureMm() {
      const configuredMm = pictureLengthMm(profile, config.picture);
      return note('pictureMm', given.pictureMm ?? configuredMm, 'mm', 'printed picture along the paper');
    },
    /** Paper beside it: marks and the way to the tear edge, or as given. */
    marginMm() {
      const configuredMm = marginMm(profile, config.printer);
      return note('marginMm', given.marginMm ?? configuredMm, 'mm', 'marks and white between two pictures');
    },
    note,
  };
};
