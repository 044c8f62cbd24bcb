import type { Clock } from '../src/parts/clock.ts';
import type { Supply, SupplySaid } from '../src/parts/supply.ts';
import type { Traces } from './traces.ts';

export interface SupplyFigures {
  openVolts: number;
  internalOhm: number;
  floorVolts: number;
  /** Whether the board can measure the voltage at all. */
  measured: boolean;
}

export type Load = 'board' | 'coil' | 'head';

export interface VirtualSupply extends Supply {
  /** Voltage at the terminals now: open voltage less the drop over the internal resistance. */
  volts(): number;
  /** Current that a load draws from now on, ampere. */
  draw(load: Load, amps: number): void;
  /** Resistance between the source and the loads, ohm. */
  readonly internalOhm: number;
  /** The battery weakens or recovers: open voltage, and internal resistance where given. */
  weaken(openVolts: number, internalOhm?: number): void;
  heal(): void;
}

/** How far above the floor the voltage must rise again before it no longer counts as low. */
const hysteresisVolts = 0.2;
const measuredEveryUs = 1_000_000;

/** A source with internal resistance; every load's current lowers what all of them see. */
export const createVirtualSupply = (clock: Clock, traces: Traces, figures: SupplyFigures): VirtualSupply => {
  const amps: Record<Load, number> = { board: 0, coil: 0, head: 0 };
  const listeners = new Set<(said: SupplySaid) => void>();
  let openVolts = figures.openVolts;
  let internalOhm = figures.internalOhm;
  let low = false;
  let recordedVolts = Number.NaN;
  let sampling = false;

  const volts = () => Math.max(0, openVolts - internalOhm * (amps.board + amps.coil + amps.head));
  const measure = () => {
    const now = volts();
    const wasLow = low;
    low = low ? now < figures.floorVolts + hysteresisVolts : now < figures.floorVolts;
    if (low !== wasLow) for (const heard of listeners) heard({ kind: 'voltage', volts: rounded(now), low });
  };
  const rounded = (value: number) => Math.round(value * 1000) / 1000;
  const record = () => {
    const now = rounded(volts());
    if (now !== recordedVolts) traces.record('supply', now);
    recordedVolts = now;
  };
  const sample = () => {
    if (listeners.size === 0) {
      sampling = false;
      return;
    }
    measure();
    clock.after(measuredEveryUs, sample);
  };

  return {
    volts,
    get internalOhm() {
      return internalOhm;
    },
    draw(load, now) {
      if (amps[load] === now) return;
      amps[load] = now;
      record();
    },
    weaken(open, ohm = internalOhm) {
      openVolts = open;
      internalOhm = ohm;
      record();
    },
    heal() {
      openVolts = figures.openVolts;
      internalOhm = figures.internalOhm;
      record();
    },
    listen(heard) {
      if (!figures.measured) return () => {};
      listeners.add(heard);
      // Who begins to listen is told at the next moment, never inside the call.
      if (low) clock.after(0, () => listeners.has(heard) && heard({ kind: 'voltage', volts: rounded(volts()), low }));
      if (!sampling) {
        sampling = true;
        clock.after(measuredEveryUs, sample);
      }
      return () => void listeners.delete(heard);
    },
  };
};
