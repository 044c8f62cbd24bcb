import type { Profile } from '../../src/config/profile.ts';

/** The printer as it really is, which need not be what its profile promises. */
export interface Mechanism {
  widthDots: number;
  /** Across and along. */
  dotsPerMm: number;
  bufferBytes: number;
  /**
   * With flow control: it asks for a stop when fewer bytes than `stopFree` are free, and goes on when `goFree` are.
   * Left out: what is usual for the size of its buffer.
   */
  flowAt?: FlowThresholds;
  knows: {
    heat: boolean;
    density: boolean;
    reverse: boolean;
    /** `10 04 n` is answered. */
    status: boolean;
    /** `1D 61 n` is obeyed. */
    automaticStatus: boolean;
    sleep: boolean;
    cutter: boolean;
  };
  head: {
    /** In force where the heat command isn't known. */
    dotsAtOnce: number;
    heatingUs: number;
    intervalUs: number;
    elementOhm: number;
    /** Voltage and temperature at which `heatingUs` gives nominal darkness. */
    volts: number;
    ambientC: number;
    compensationPerC: number;
    kelvinPerWatt: number;
    timeConstantS: number;
    /** Its own sensor stops the print, and lets it go on. About 80 and 60 °C, from memory. */
    stopC: number;
    goC: number;
  };
  motor: {
    mmPerS: number;
    /** Added to the first line after a standstill. */
    startUs: number;
    /** A line that comes this late doesn't stop the motor yet; common practice, no source. */
    patienceUs: number;
    /** Lines take this times what they should: 1.03 is a printer 3 % slower than its data. */
    slowness: number;
  };
  /** From the heating line to the tear edge. */
  tearMm: number;
  /** Remaining paper at which the sensor warns; 0: no such sensor. */
  nearEndMm: number;
  /** Nominal radius of a dot in units of the pitch. */
  dotRadius: number;
  quirks: {
    /** Deaf after power-up. */
    powerUpMs: number;
    /** Sleeps by itself; 0: never. */
    sleepsAfterS: number;
    densityFieldsSwapped: boolean;
    ignoresReverse: boolean;
    /** Reverse beyond this is cut short; 1/6 inch in one manual. */
    reverseMostMm: number;
    /** `10 04 n` inside image data is answered too, as clones do (from memory). */
    statusInImages: boolean;
    /** The busy line, or XOFF, stands as long as the printer is off line. */
    busyOffLine: boolean;
    /** From the third byte of `10 04 n` to the first bit of the answer. */
    answerUs: number;
  };
}

export interface FlowThresholds {
  stopFree: number;
  goFree: number;
}

/** Where a receive buffer asks for a stop: by two manuals' figures from 1 KB on, below by common practice. */
export const usualThresholds = (bufferBytes: number): FlowThresholds => {
  if (bufferBytes >= 4096) return { stopFree: 50, goFree: 102 };
  if (bufferBytes >= 1024) return { stopFree: 256, goFree: 512 };
  return { stopFree: Math.ceil(bufferBytes / 4), goFree: Math.ceil(bufferBytes / 2) };
};

/** A printer that keeps every promise of its profile; override single figures to get one that doesn't. */
export const mechanismOf = (profile: Profile): Mechanism => ({
  widthDots: profile.widthDots,
  dotsPerMm: profile.dotsPerMm,
  bufferBytes: profile.bufferBytes,
  knows: {
    heat: profile.commands.heat === 'panel',
    density: profile.commands.density === 'panel',
    reverse: profile.commands.reverse,
    status: profile.commands.status !== 'none',
    automaticStatus: profile.commands.status === 'automatic',
    sleep: profile.commands.sleep,
    cutter: false,
  },
  head: {
    dotsAtOnce: profile.head.dotsAtOnce,
    heatingUs: profile.head.heatingUs,
    intervalUs: profile.head.intervalUs,
    elementOhm: profile.head.elementOhm,
    volts: profile.head.volts,
    ambientC: profile.head.ambientC,
    compensationPerC: profile.head.compensationPerC,
    kelvinPerWatt: profile.head.kelvinPerWatt,
    timeConstantS: profile.head.timeConstantS,
    stopC: 80,
    goC: 60,
  },
  motor: { mmPerS: profile.motor.mmPerS, startUs: 0, patienceUs: 250, slowness: 1 },
  tearMm: profile.tearMm,
  nearEndMm: 1000,
  dotRadius: profile.dotRadius,
  quirks: {
    powerUpMs: profile.quirks.powerUpMs,
    sleepsAfterS: profile.quirks.sleepsAfterS,
    densityFieldsSwapped: profile.quirks.densityFieldsSwapped,
    ignoresReverse: profile.quirks.ignoresReverse,
    reverseMostMm: 25.4 / 6,
    statusInImages: true,
    busyOffLine: false,
    answerUs: 300,
  },
});
