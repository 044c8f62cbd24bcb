import type { Bench, Finding, Trial } from './bench.ts';
import { agreed } from './bench.ts';
import { cautions } from './cautions.ts';

const ladderMs = [5, 8, 12, 18, 25, 35, 50, 80];

/** Rest after a pulse so that the coil stays well under its duty. */
export const restMsAfter = (pulseMs: number, dutyPercent: number): number =>
  Math.ceil((pulseMs * 100) / dutyPercent) * 2;

const pulse = async (bench: Bench, ms: number): Promise<void> => {
  bench.rig.shutter.energise();
  try {
    await bench.pause(ms);
  } finally {
    bench.rig.shutter.release();
  }
};

const run = async (bench: Bench): Promise<Finding[]> => {
  const { longestPulseMs, dutyPercent, pulseMs } = bench.config.shutter;
  bench.say(`One pulse of ${pulseMs} ms.\n`);
  await pulse(bench, pulseMs);
  await bench.pause(restMsAfter(pulseMs, dutyPercent));
  if (!agreed(await bench.ask('Did the shutter click? [y/n] '))) {
    bench.say(
      'Then look at the driver (gate voltage, flyback diode the right way round) and the supply before a longer pulse is tried.\n',
    );
    return [];
  }
  bench.say('Now a ladder of lengths, three pulses each, with rests for the coil to cool.\n');
  for (const ms of ladderMs.filter(length => length <= longestPulseMs)) {
    for (let i = 0; i < 3; i++) {
      await pulse(bench, ms);
      await bench.pause(restMsAfter(ms, dutyPercent));
    }
    if (agreed(await bench.ask(`Three clean clicks at ${ms} ms? [y/n] `))) {
      const safe = Math.min(longestPulseMs, Math.ceil(ms * 1.5));
      return [
        {
          path: ['shutter', 'pulseMs'],
          value: safe,
          why: `reliable from ${ms} ms, and half as much again for a weak battery`,
        },
      ];
    }
  }
  bench.say(
    `Not even ${longestPulseMs} ms was reliable: the coil gets too little current, or its travel is stiff. \`slipshutter reckon coil\` says what it should draw.\n`,
  );
  return [];
};

export const shutterTrial: Trial = {
  part: 'shutter',
  does: 'pulses the solenoid, first once, then to find its shortest reliable pulse',
  cautions: [cautions.flash, cautions.coil, cautions.general],
  run,
};
