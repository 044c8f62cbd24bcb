import type { Mechanism } from './mechanism.ts';

/** What the printer is told about heating: by the heat and density commands, or by itself. */
export interface HeatSetting {
  dotsAtOnce: number;
  heatingUs: number;
  intervalUs: number;
  /** 1 is nominal. */
  density: number;
  /** Rest after each line. */
  breakUs: number;
}

/** Panel class after power-up: 64 dots, 800 µs, 20 µs (manual). Others heat as their mechanism says. */
export const startingHeat = ({ knows, head }: Mechanism): HeatSetting => ({
  dotsAtOnce: knows.heat ? 64 : head.dotsAtOnce,
  heatingUs: knows.heat ? 800 : head.heatingUs,
  intervalUs: knows.heat ? 20 : head.intervalUs,
  density: 1,
  breakUs: 0,
});

/** `12 23 n`: 50 % + 5 % for each step of the low five bits, break in steps of 250 µs in the high three (manual). */
export const densitySetting = (argument: number, fieldsSwapped: boolean): { density: number; breakUs: number } => {
  const low = argument & 31;
  const high = argument >> 5;
  // Swapped: the low bits are the break, the high bits the density, coarser.
  return fieldsSwapped
    ? { density: 0.5 + 0.05 * (high << 2), breakUs: (low >> 2) * 250 }
    : { density: 0.5 + 0.05 * low, breakUs: high * 250 };
};

const onesIn = new Uint8Array(256).map((_, byte) => {
  let ones = 0;
  for (let rest = byte; rest > 0; rest &= rest - 1) ones++;
  return ones;
});
export const blackDots = (row: Uint8Array): number => {
  let black = 0;
  for (let i = 0; i < row.length; i++) black += onesIn[row[i]];
  return black;
};

/** Time to heat a line whose black dots are counted and fired in groups: ⌈black / at once⌉ · (heating + interval). */
export const heatingTimeUs = (black: number, heat: HeatSetting): number =>
  Math.ceil(black / heat.dotsAtOnce) * (heat.heatingUs * heat.density + heat.intervalUs);

export interface Head {
  /**
   * Fires a line of `black` dots that takes `lineUs` in all at `volts`; returns its drive: energy given over energy
   * needed at this temperature, 1 is nominal darkness.
   */
  fire(black: number, lineUs: number, heat: HeatSetting, volts: number, nowUs: number): number;
  temperatureC(nowUs: number): number;
  ambient(celsius: number, nowUs: number): void;
  /** How long until it has cooled down to `celsius` at rest; Infinity if never. */
  coolsInUs(celsius: number, nowUs: number): number;
  readonly joules: number;
}

/** Head temperature as a first-order model: dT/dt = (P·R − (T − ambient)) / τ. */
export const createHead = ({ head }: Mechanism): Head => {
  const tauUs = head.timeConstantS * 1e6;
  let ambientC = head.ambientC;
  let aboveC = 0;
  let atUs = 0;
  let joules = 0;

  const cool = (nowUs: number) => {
    if (nowUs > atUs) aboveC *= Math.exp((atUs - nowUs) / tauUs);
    atUs = Math.max(atUs, nowUs);
  };
  return {
    fire(black, lineUs, heat, volts, nowUs) {
      cool(nowUs);
      const pulseUs = heat.heatingUs * heat.density;
      const celsius = ambientC + aboveC;
      const needed = Math.max(0.1, 1 - head.compensationPerC * (celsius - head.ambientC));
      if (black > 0) {
        const lineJoules = (black * volts * volts * pulseUs * 1e-6) / head.elementOhm;
        joules += lineJoules;
        const restC = (lineJoules / (lineUs * 1e-6)) * head.kelvinPerWatt;
        aboveC = restC + (aboveC - restC) * Math.exp(-lineUs / tauUs);
        atUs += lineUs;
      }
      return ((pulseUs / head.heatingUs) * (volts / head.volts) ** 2) / needed;
    },
    temperatureC(nowUs) {
      cool(nowUs);
      return ambientC + aboveC;
    },
    ambient(celsius, nowUs) {
      cool(nowUs);
      // The head keeps its temperature; what is around it changes.
      aboveC += ambientC - celsius;
      ambientC = celsius;
    },
    coolsInUs(celsius, nowUs) {
      cool(nowUs);
      if (ambientC + aboveC <= celsius) return 0;
      return celsius <= ambientC ? Number.POSITIVE_INFINITY : tauUs * Math.log(aboveC / (celsius - ambientC));
    },
    get joules() {
      return joules;
    },
  };
};
