import type { Bench, Finding, Trial } from './bench.ts';
import { agreed } from './bench.ts';

const run = async (bench: Bench): Promise<Finding[]> => {
  const { lamp } = bench.rig;
  try {
    bench.say('The lamp is lit for two seconds, then blinks twice a second.\n');
    lamp.show({ name: 'tryout-steady', stepsMs: [Number.POSITIVE_INFINITY] });
    await bench.pause(2000);
    lamp.show({ name: 'tryout-blink', stepsMs: [250, 250] });
    await bench.pause(3000);
  } finally {
    lamp.show({ name: 'dark', stepsMs: [] });
  }
  if (!agreed(await bench.ask('Was it lit, and did it blink? [y/n] ')))
    bench.say('Then look at lamp.line (or lamp.led) and at the lamp’s series resistor.\n');
  return [];
};

export const lampTrial: Trial = { part: 'lamp', does: 'lights the lamp and lets it blink', cautions: [], run };
