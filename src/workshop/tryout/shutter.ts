import type { Bench, Outcome, Trial } from './bench.ts';
import { fails, unjudged, works } from './bench.ts';
import { cautions } from './cautions.ts';

const ladderMs = [5, 8, 12, 18, 25, 35, 50, 80, 120];
const pulsesARung = 3;

/** Rest after a pulse so that the coil stays well under its duty. */
export const restMsAfter = (pulseMs: number, dutyPercent: number): number =>
  Math.ceil((pulseMs * 100) / dutyPercent) * 2;

const run = async (bench: Bench): Promise<Outcome> => {
  const { longestPulseMs, dutyPercent, pulseMs } = bench.config.shutter;
  const { shutter } = bench.rig;
  const pulse = async (ms: number) => {
    shutter.energise();
    try {
      await bench.pause(ms);
    } finally {
      shutter.release();
    }
    await bench.pause(restMsAfter(ms, dutyPercent));
  };

  bench.say(`One pulse of ${pulseMs} ms.\n`);
  await pulse(pulseMs);
  const clicked = await bench.sees('Did the shutter click?');
  if (clicked === null) return unjudged;
  if (!clicked) {
    bench.say('Then look at the driver (gate voltage, flyback diode the right way round) and at the supply.\n');
    const further = pulseMs < longestPulseMs && (await bench.sees(`Are they right: try up to ${longestPulseMs} ms?`));
    if (!further) return fails;
  }
  bench.say(`Now from short to long, ${pulsesARung} pulses each, with rests for the coil to cool.\n`);
  for (const ms of new Set([...ladderMs.filter(length => length < longestPulseMs), longestPulseMs])) {
    for (let i = 0; i < pulsesARung; i++) await pulse(ms);
    if (!(await bench.sees(`Three clean clicks at ${ms} ms?`))) continue;
    const value = Math.min(longestPulseMs, Math.ceil(ms * 1.5));
    const spare =
      value < ms * 1.5
        ? 'no more is allowed, so little is left for a weak battery'
        : 'and half as much again for a weak battery';
    return works({ path: ['shutter', 'pulseMs'], value, why: `reliable from ${ms} ms, ${spare}` });
  }
  bench.say(
    `Not even ${longestPulseMs} ms was reliable: the coil gets too little current, or its travel is stiff. \`slipshutter reckon coil\` says what it should draw.\n`,
  );
  return fails;
};

export const shutterTrial: Trial = {
  part: 'shutter',
  does: 'pulses the solenoid once, then finds its shortest reliable pulse',
  cautions: [cautions.flash, cautions.coil, cautions.cells, cautions.general],
  unfitted: ({ shutter }) => (shutter.line === null ? 'shutter.line' : ''),
  run,
};
