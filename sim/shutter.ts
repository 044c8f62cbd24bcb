import type { Clock, Undo } from '../src/parts/clock.ts';
import { Fault } from '../src/parts/fault.ts';
import type { Shutter, ShutterSaid } from '../src/parts/shutter.ts';
import type { VirtualSupply } from './supply.ts';
import type { Traces } from './traces.ts';

export interface CoilFigures {
  coilOhm: number;
  coilMh: number;
  longestPulseMs: number;
  /** Longest time on within `dutyWindowUs`, percent. */
  dutyPercent: number;
  /** What the configuration allows the blades to take to clear the lens after the coil lets go. */
  bladesClearMs: number;
  nominalVolts: number;
}

export interface VirtualShutter extends Required<Shutter> {
  /** Whether blades were before the lens at any time between the two stamps, and how much of that time, 0…1. */
  crossing(fromUs: number, toUs: number): number;
  temperatureC(): number;
  /** Strokes in which the armature really pulled in. */
  readonly strokes: number;
  /** The line can't be driven, for this reason; null: it can again. */
  fail(why: string | null): void;
  /** The armature sticks: the coil draws its current, nothing moves, nothing sounds. */
  jam(jammed: boolean): void;
  powerOff(): void;
}

export const dutyWindowUs = 10_000_000;
/** Copper, per kelvin. */
const copperPerK = 0.00393;
/** Current at which the armature pulls in and at which it lets go, parts of the cold coil's current at nominal voltage. */
const pullInPart = 0.6;
const holdPart = 0.2;
/** Drop over the flyback diode. */
const diodeVolts = 0.7;
/** Travel of the armature before the blades show, and the coil's thermal figures: an invented small solenoid. */
const travelUs = 2500;
const kelvinPerWatt = 12;
const thermalSeconds = 90;
const ambientC = 25;

/**
 * Solenoid and blades. Current rises by i = (V/R)(1 − e^(−t/τ)) and falls through a diode; the armature follows; the
 * blades stay before the lens until some time after it has dropped. Heat raises the resistance of the copper. The part
 * holds the same hard limits as the real one: longest pulse, and time on within ten seconds.
 */
export const createVirtualShutter = (
  clock: Clock,
  traces: Traces,
  figures: CoilFigures,
  supply: VirtualSupply,
): VirtualShutter => {
  const listeners = new Set<(said: ShutterSaid) => void>();
  const coldAmps = figures.nominalVolts / figures.coilOhm;
  const pulses: { fromUs: number; toUs: number }[] = [];
  const shadows: { fromUs: number; toUs: number }[] = [];
  let onSinceUs: number | null = null;
  let pulledIn = false;
  let strokes = 0;
  let warmK = 0;
  let warmAtUs = 0;
  let failing: string | null = null;
  let jammed = false;
  let stopLimit: Undo = () => {};
  let stopArmature: Undo = () => {};
  let stopBlades: Undo = () => {};

  const ohm = () => figures.coilOhm * (1 + copperPerK * warmK);
  const warm = (watts: number) => {
    const seconds = (clock.nowUs() - warmAtUs) / 1e6;
    const settled = watts * kelvinPerWatt;
    warmK = settled + (warmK - settled) * Math.exp(-seconds / thermalSeconds);
    warmAtUs = clock.nowUs();
  };
  const onTimeUs = (): number => {
    const since = clock.nowUs() - dutyWindowUs;
    while (pulses.length > 0 && pulses[0].toUs <= since) pulses.shift();
    return pulses.reduce((sum, { fromUs, toUs }) => sum + toUs - Math.max(fromUs, since), 0);
  };
  const showBlades = () => {
    pulledIn = true;
    strokes++;
    stopBlades();
    if (shadows.at(-1)?.toUs === Number.POSITIVE_INFINITY) return;
    shadows.push({ fromUs: clock.nowUs(), toUs: Number.POSITIVE_INFINITY });
    if (shadows.length > 16) shadows.shift();
    traces.record('blades', 1);
  };
  const clearBlades = () => {
    const shadow = shadows.at(-1);
    if (shadow) shadow.toUs = clock.nowUs();
    traces.record('blades', 0);
  };

  const release = (byLimit = false) => {
    if (onSinceUs === null) return;
    stopLimit();
    stopArmature();
    const volts = Math.max(0.1, supply.volts());
    const onUs = clock.nowUs() - onSinceUs;
    pulses.push({ fromUs: onSinceUs, toUs: clock.nowUs() });
    onSinceUs = null;
    warm(volts ** 2 / ohm());
    supply.draw('coil', 0);
    traces.record('coil', 0);
    if (byLimit) traces.record('coil-limit', onUs);
    for (const heard of listeners) heard({ kind: 'released', atUs: clock.nowUs() });
    if (!pulledIn) return;
    pulledIn = false;
    const tauUs = (figures.coilMh * 1000) / ohm();
    const amps = (volts / ohm()) * -Math.expm1(-onUs / tauUs);
    const drop = diodeVolts / ohm();
    const fallUs = tauUs * Math.log((amps + drop) / (Math.min(amps, holdPart * coldAmps) + drop));
    // The maker measured `bladesClearMs` with a margin: the blades are quicker than it, unless the coil falls slowly.
    stopBlades = clock.after(Math.max(fallUs, figures.bladesClearMs * 750), clearBlades);
  };

  return {
    energise() {
      if (failing !== null) {
        traces.record('coil-unmoved', 1);
        throw new Fault('part-failed', `the coil can't be driven: ${failing}`, 'see its driver');
      }
      if (onSinceUs !== null) return;
      const leftUs = (dutyWindowUs * figures.dutyPercent) / 100 - onTimeUs();
      if (leftUs < 1000) {
        traces.record('coil-limit', 0);
        traces.record('coil-unmoved', 1);
        throw new Fault(
          'part-failed',
          'the coil has been on for all its duty',
          'it may be driven again in a few seconds',
        );
      }
      warm(0);
      onSinceUs = clock.nowUs();
      traces.record('coil', 1);
      const volts = Math.max(0.1, supply.volts() - supply.internalOhm * (supply.volts() / ohm()));
      const settledAmps = volts / ohm();
      supply.draw('coil', settledAmps);
      stopLimit = clock.after(Math.min(figures.longestPulseMs * 1000, leftUs), () => release(true));
      const pullInAmps = pullInPart * coldAmps;
      if (jammed || settledAmps <= pullInAmps) return;
      const riseUs = -((figures.coilMh * 1000) / ohm()) * Math.log(1 - pullInAmps / settledAmps);
      stopArmature = clock.after(riseUs + travelUs, showBlades);
    },
    release: () => release(),
    listen(heard) {
      listeners.add(heard);
      return () => void listeners.delete(heard);
    },
    crossing(fromUs, toUs) {
      if (toUs <= fromUs) return 0;
      const dark = shadows.reduce(
        (sum, s) => sum + Math.max(0, Math.min(toUs, s.toUs) - Math.max(fromUs, s.fromUs)),
        0,
      );
      return Math.min(1, dark / (toUs - fromUs));
    },
    temperatureC() {
      warm(onSinceUs === null ? 0 : supply.volts() ** 2 / ohm());
      return ambientC + warmK;
    },
    get strokes() {
      return strokes;
    },
    fail(why) {
      failing = why;
    },
    jam(now) {
      jammed = now;
    },
    powerOff() {
      listeners.clear();
      release();
    },
  };
};
