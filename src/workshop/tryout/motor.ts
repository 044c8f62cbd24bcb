import type { Bench, Finding, Trial } from './bench.ts';
import { agreed } from './bench.ts';
import { cautions } from './cautions.ts';

const ladderMs = [60, 120, 200, 300, 400, 600];

const run = async (bench: Bench): Promise<Finding[]> => {
  const { motor } = bench.rig;
  const { travelMs } = bench.config.motor;
  const drive = async (direction: 'in' | 'out', ms: number) => {
    motor.drive(direction);
    await bench.pause(ms);
    motor.drive('off');
    await bench.pause(150);
  };
  try {
    bench.say('A short drive in, and back out.\n');
    await drive('in', 60);
    await drive('out', 60);
    if (!agreed(await bench.ask('Did the lens move in first, then out? [y/n] '))) {
      bench.say(
        'If it went the other way, exchange motor.inLine and motor.outLine; if it didn’t move, look at the bridge’s supply.\n',
      );
      return [];
    }
    let reached = 60;
    for (const ms of ladderMs.filter(length => length <= travelMs)) {
      await drive('in', ms);
      await drive('out', ms);
      if (!agreed(await bench.ask(`Free travel at ${ms} ms, without strain at either end? [y/n] `))) break;
      reached = ms;
    }
    return [{ path: ['motor', 'travelMs'], value: reached, why: `travelled freely for ${reached} ms` }];
  } finally {
    motor.drive('off');
  }
};

export const motorTrial: Trial = {
  part: 'motor',
  does: 'drives the focus motor both ways, further step by step',
  cautions: [cautions.flash, cautions.motor, cautions.general],
  run,
};
