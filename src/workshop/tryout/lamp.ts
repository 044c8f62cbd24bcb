import type { Bench, Outcome, Trial } from './bench.ts';
import { judged } from './bench.ts';

const run = async (bench: Bench): Promise<Outcome> => {
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
  const seen = await bench.sees('Was it lit, and did it blink?');
  if (seen === false) bench.say('Then look at lamp.line (or lamp.led), at its polarity and its series resistor.\n');
  return judged(seen);
};

export const lampTrial: Trial = {
  part: 'lamp',
  does: 'lights the lamp and lets it blink',
  cautions: [],
  unfitted: ({ lamp }) => (lamp.line === null && lamp.led === '' ? 'lamp.line' : ''),
  run,
};
