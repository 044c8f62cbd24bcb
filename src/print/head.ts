import type { Profile } from '../config/profile.ts';
import type { Config } from '../config/schema.ts';
import type { HeatSetting } from './language.ts';

/** Time that the motor needs for one dot line at its fastest, µs. */
export const motorLineUs = ({ dotsPerMm, motor }: Profile): number => 1e6 / (dotsPerMm * motor.mmPerS);

/** Time to heat a line in groups: ⌈black / at once⌉ · (heating + interval), µs. */
export const heatingLineUs = (black: number, { dotsAtOnce, heatingUs, intervalUs }: HeatSetting): number =>
  Math.ceil(black / dotsAtOnce) * (heatingUs + intervalUs);

/** The battery as the head meets it. */
export interface Power {
  openVolts: number;
  internalOhm: number;
  floorVolts: number;
  /** What the board draws all the time, and the coil whenever it is fired. */
  boardAmps: number;
  coilAmps: number;
}

/** A printer with an adapter of its own meets no battery: a source without resistance. */
export const powerOf = ({ ownSupply, head }: Profile, supply: Config['supply']): Power =>
  ownSupply
    ? { openVolts: head.volts, internalOhm: 0, floorVolts: head.volts, boardAmps: 0, coilAmps: 0 }
    : {
        openVolts: supply.nominalVolts,
        internalOhm: supply.internalOhm,
        floorVolts: supply.floorVolts,
        boardAmps: supply.boardWatts / supply.nominalVolts,
        coilAmps: supply.nominalVolts / supply.coilOhm,
      };

/** Current left for the head before the terminals sag to the floor, ampere; Infinity without internal resistance. */
export const headAmpsAtMost = (power: Power, withCoil: boolean): number =>
  power.internalOhm === 0
    ? Number.POSITIVE_INFINITY
    : (power.openVolts - power.floorVolts) / power.internalOhm - power.boardAmps - (withCoil ? power.coilAmps : 0);

/** Dots that may be hot at once before the supply sags under its floor, board and coil drawing too; I = N·V/R. */
export const supplyDots = (elementOhm: number, power: Power): number =>
  Math.max(0, Math.floor((headAmpsAtMost(power, true) * elementOhm) / power.floorVolts));

/** Voltage at the head with `dots` hot: the open voltage less what board and head drop over the internal resistance. */
export const headVolts = (dots: number, elementOhm: number, power: Power): number =>
  (power.openVolts - power.internalOhm * power.boardAmps) / (1 + (power.internalOhm * dots) / elementOhm);

/** Head current with `dots` hot, ampere. */
export const headAmps = (dots: number, elementOhm: number, power: Power): number =>
  (dots * headVolts(dots, elementOhm, power)) / elementOhm;

const panelStep = { dots: 8, us: 10 };

/** Dots at once that profile and supply both allow: a whole number of groups of eight where the printer can be told. */
export const dotsAtOnce = (profile: Profile, power: Power): number => {
  const { dotsAtOnce: promised, elementOhm } = profile.head;
  if (profile.commands.heat === 'none') return promised;
  const allowed = Math.min(promised, supplyDots(elementOhm, power), 2048);
  return Math.max(panelStep.dots, Math.floor(allowed / panelStep.dots) * panelStep.dots);
};

/**
 * Heating time that gives nominal darkness, µs: E = E25·(1 − c·ΔT) at a voltage that differs from the nominal,
 * t ∝ E·R/V². In steps and range of the heat command.
 */
export const heatingFor = (profile: Profile, power: Power, dots: number, aboveK: number): number => {
  const { head } = profile;
  if (profile.commands.heat === 'none') return head.heatingUs;
  const energy = Math.max(0.1, 1 - head.compensationPerC * aboveK);
  const volts = headVolts(dots, head.elementOhm, power);
  const us = head.heatingUs * energy * (head.volts / volts) ** 2;
  return Math.min(2550, Math.max(30, Math.round(us / panelStep.us) * panelStep.us));
};

/** Energy that a line of `black` dots takes from the supply, joule. */
export const lineJoules = (black: number, setting: HeatSetting, profile: Profile, power: Power): number => {
  const { elementOhm } = profile.head;
  const volts = headVolts(Math.min(black, setting.dotsAtOnce), elementOhm, power);
  return (black * volts * volts * setting.heatingUs * 1e-6) / elementOhm;
};

/** First order: dT/dt = (P·R − T)/τ. Kelvin above ambient after `us` at `watts`. */
export const warm = (aboveK: number, watts: number, us: number, { head }: Profile): number => {
  const restK = watts * head.kelvinPerWatt;
  return restK + (aboveK - restK) * Math.exp(-us / (head.timeConstantS * 1e6));
};

/** Time at rest until the head is only `toK` above ambient, µs. */
export const coolsInUs = (aboveK: number, toK: number, { head }: Profile): number =>
  aboveK <= toK ? 0 : Math.ceil(head.timeConstantS * 1e6 * Math.log(aboveK / toK));

/**
 * Kelvin above ambient that the head may reach: by its own limit and by the mean power at most, which in a first-order
 * model is the same thing, for the temperature is the mean power with the weight of the time constant.
 */
export const warmestK = ({ head }: Profile): number =>
  Math.max(1, Math.min(head.hotC - head.ambientC, head.averageWatts * head.kelvinPerWatt));
