import type { Bench, Finding, Trial } from './bench.ts';

const run = async (bench: Bench): Promise<Finding[]> => {
  const volts: number[] = [];
  const undo = bench.rig.supply.listen(said => void volts.push(said.volts));
  await bench.pause(3000);
  undo();
  if (volts.length === 0) {
    bench.say('No voltage is measured (supply.sensor is empty, or its file gives nothing).\n');
    return [];
  }
  const mean = volts.reduce((sum, v) => sum + v, 0) / volts.length;
  bench.say(
    `${volts.length} readings in 3 s: ${Math.min(...volts).toFixed(2)} to ${Math.max(...volts).toFixed(2)} V, mean ${mean.toFixed(2)} V; floor ${bench.config.supply.floorVolts} V.\n`,
  );
  return [];
};

export const supplyTrial: Trial = { part: 'supply', does: 'reads the battery voltage', cautions: [], run };
