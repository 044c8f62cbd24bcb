import type { Profile } from '../config/profile.ts';
import type { Config } from '../config/schema.ts';
import { dotsAtOnce, headAmps, headVolts, heatingLineUs, motorLineUs, powerOf, supplyDots } from './head.ts';
import { createPacer } from './pace.ts';
import { blockBytes, rowsInCommand } from './pieces.ts';
import { chooseHeat, type Pieces, rowsUs } from './slow.ts';
import { bitsAByte, wireOf } from './wire.ts';

/** How line, head, motor and supply fit together; for `check` and for a person who plans. */
export interface LineFit {
  /**
   * `keeps up`: the wire is never slower than head and motor. `slowed`: it is, and heat settings slow the head down, so
   * that the paper doesn't stop within a picture. `stands`: rows with less ink than `standsBelowInk` can't be slowed
   * down enough, and the paper stops at them.
   */
  verdict: 'keeps up' | 'slowed' | 'stands';
  /** Share of black dots in a row, 0…1; 0 unless the verdict is `stands`. */
  standsBelowInk: number;
  /** One row on the wire with its share of the command's header, µs. */
  wireRowUs: number;
  /** A black row, µs. */
  blackRowUs: number;
  /** Paper speeds that wire, black rows and motor allow, mm/s. */
  wireMmPerS: number;
  blackMmPerS: number;
  motorMmPerS: number;
  /** Least baud at which the wire keeps up with the motor; null where there is no serial line. */
  leastBaud: number | null;
  dotsAtOnce: number;
  /** Head current and voltage with that many dots hot. */
  peakAmps: number;
  peakVolts: number;
  /** Whether a black row, the board and the coil together leave the supply above its floor. */
  supplyHolds: boolean;
}

const bandRows = 24;
const headerBytes = 8;
const steps = 100;

/** Rows of `black` dots after each other: whether they go through without a stop, and without slowing the head. */
const rowsPass = (black: number, profile: Profile, config: Config): { stands: boolean; slowed: boolean } => {
  const power = powerOf(profile, config.supply);
  const wire = wireOf(profile, config.printer);
  const rowBytes = Math.ceil(profile.widthDots / 8);
  const motorUs = Math.round(motorLineUs(profile));
  const pacer = createPacer(wire, null);
  const rows = rowsInCommand(profile, wire);
  const raster = profile.commands.image === 'raster';
  const sizes = raster ? new Int32Array(rows).fill(rowBytes) : Int32Array.of(rows * rowBytes + blockBytes);
  if (raster) sizes[0] += headerBytes;
  const band = (first: boolean): Pieces => ({
    bytes: new Uint8Array(0),
    sizes,
    black: new Int32Array(rows).fill(black),
    rowsEach: raster ? 1 : rows,
    linesEach: raster ? 1 : rows,
    unbroken: !first,
  });
  const atOnce = dotsAtOnce(profile, power);
  let slowed = false;
  for (let index = 0; index < 4; index++) {
    const pieces = band(index === 0);
    const aheadBytes = sizes[0];
    const how = chooseHeat({ profile, power, pacer, pieces, aheadBytes, atOnce, aboveK: 0 });
    for (let k = 0; k < sizes.length; k++)
      pacer.add({
        bytes: sizes[k],
        takesUs: rowsUs(pieces.black, k * pieces.rowsEach, pieces.rowsEach, how, motorUs),
        unbroken: pieces.unbroken || k > 0,
        heats: true,
      });
    if (how.dotsAtOnce < atOnce || how.intervalUs > Math.ceil(profile.head.intervalUs / 10) * 10) slowed = true;
  }
  return { stands: pacer.starved > 0, slowed };
};

/** Sums and verdict for a configuration and its printer. */
export const lineFits = (config: Config, profile: Profile): LineFit => {
  const power = powerOf(profile, config.supply);
  const serial = config.printer.link === 'serial';
  const rowBytes = Math.ceil(profile.widthDots / 8) + headerBytes / bandRows;
  const wireRowUs = rowBytes * wireOf(profile, config.printer).byteUs;
  const { elementOhm, heatingUs, intervalUs } = profile.head;
  const atOnce = dotsAtOnce(profile, power);
  const motorUs = motorLineUs(profile);
  const blackRowUs = Math.max(motorUs, heatingLineUs(profile.widthDots, { dotsAtOnce: atOnce, heatingUs, intervalUs }));
  const mmPerS = (us: number) => 1e6 / (us * profile.dotsPerMm);

  let standsBelowInk = 0;
  let slowed = false;
  for (let step = steps; step >= 1; step--) {
    const passes = rowsPass(Math.max(1, Math.round((profile.widthDots * step) / steps)), profile, config);
    slowed ||= passes.slowed;
    if (!passes.stands) continue;
    standsBelowInk = Math.min(1, (step + 1) / steps);
    break;
  }
  return {
    verdict: standsBelowInk > 0 ? 'stands' : slowed ? 'slowed' : 'keeps up',
    standsBelowInk,
    wireRowUs,
    blackRowUs,
    wireMmPerS: mmPerS(wireRowUs),
    blackMmPerS: mmPerS(blackRowUs),
    motorMmPerS: profile.motor.mmPerS,
    leastBaud: serial ? Math.ceil((rowBytes * bitsAByte * 1e6) / motorUs) : null,
    dotsAtOnce: atOnce,
    peakAmps: headAmps(atOnce, elementOhm, power),
    peakVolts: headVolts(atOnce, elementOhm, power),
    supplyHolds: atOnce <= supplyDots(elementOhm, power),
  };
};
