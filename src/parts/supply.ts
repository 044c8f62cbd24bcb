import type { Undo } from './clock.ts';

/** Battery voltage where it can be measured. `low` is under the configured floor (with hysteresis). */
export interface SupplySaid {
  kind: 'voltage';
  volts: number;
  low: boolean;
}

export interface Supply {
  listen(heard: (said: SupplySaid) => void): Undo;
}
