import type { Bench, Outcome, Trial } from './bench.ts';
import { fails, works } from './bench.ts';

const readings = 6;
const everyMs = 500;

const run = async (bench: Bench): Promise<Outcome> => {
  const { sensor, floorVolts, emptyVolts } = bench.config.supply;
  const volts: number[] = [];
  for (let i = 0; i < readings; i++) {
    const now = bench.volts();
    if (now !== null) volts.push(now);
    await bench.pause(everyMs);
  }
  if (volts.length === 0) {
    bench.say(`${sensor} gives no voltage: see /sys/class/power_supply and /sys/class/hwmon for another.\n`);
    return fails;
  }
  const mean = volts.reduce((sum, v) => sum + v, 0) / volts.length;
  bench.say(
    `${volts.length} readings in ${(readings * everyMs) / 1000} s: ${Math.min(...volts).toFixed(2)} to ${Math.max(...volts).toFixed(2)} V, ` +
      `mean ${mean.toFixed(2)} V; empty at ${emptyVolts} V, floor under load ${floorVolts} V.\n`,
  );
  if (mean >= emptyVolts) return works();
  bench.say('That is an empty battery: charge it before coil and head are tried, or mend supply.emptyVolts.\n');
  return fails;
};

export const supplyTrial: Trial = {
  part: 'supply',
  does: 'reads the battery voltage',
  cautions: [],
  unfitted: ({ supply }) => (supply.sensor === '' ? 'supply.sensor' : ''),
  run,
};
