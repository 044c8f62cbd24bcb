import { readFile } from 'node:fs/promises';
import type { Supply, SupplySaid } from '../parts/supply.ts';

export interface SupplyOptions {
  /** File that holds the voltage in microvolts, as hwmon and power_supply give it. */
  sensor: string;
  floorVolts: number;
  everyMs?: number;
}

/** How far above the floor the voltage must rise again before it no longer counts as low. */
const hysteresisVolts = 0.2;

/** Says when the battery falls under its floor and when it has recovered; a sensor that can't be read says nothing. */
export const createSupply = ({ sensor, floorVolts, everyMs = 1000 }: SupplyOptions): Supply => ({
  listen(heard: (said: SupplySaid) => void) {
    if (sensor === '') return () => {};
    let low = false;
    let stopped = false;
    const measure = async () => {
      const text = await readFile(sensor, 'utf8').catch(() => '');
      const volts = Math.round(Number.parseInt(text, 10) / 1000) / 1000;
      if (stopped || !Number.isFinite(volts)) return;
      const wasLow = low;
      low = volts < (low ? floorVolts + hysteresisVolts : floorVolts);
      if (low !== wasLow) heard({ kind: 'voltage', volts, low });
    };
    const timer = setInterval(() => void measure(), everyMs);
    return () => {
      stopped = true;
      clearInterval(timer);
    };
  },
});
