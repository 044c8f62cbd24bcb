import type { Bench, Outcome, Trial } from './bench.ts';
import { fails, unjudged, works } from './bench.ts';
import { cautions } from './cautions.ts';

const shortestMs = 60;
const ladderMs = [120, 200, 300, 400, 600, 900];
/** The lens comes to rest before it is driven the other way. */
const restMs = 150;

const run = async (bench: Bench): Promise<Outcome> => {
  const { motor } = bench.rig;
  const { travelMs } = bench.config.motor;
  const there = async (ms: number) => {
    for (const direction of ['in', 'out'] as const) {
      motor.drive(direction);
      await bench.pause(ms);
      motor.drive('off');
      await bench.pause(restMs);
    }
  };
  try {
    bench.say(`A short drive in, and back out; never longer than motor.travelMs, ${travelMs} ms.\n`);
    await there(Math.min(shortestMs, travelMs));
    const moved = await bench.sees('Did the lens move in first, then out?');
    if (moved === null) return unjudged;
    if (!moved) {
      bench.say(
        'If it went the other way, exchange motor.inLine and motor.outLine; if it didn’t move, look at the bridge’s supply.\n',
      );
      return fails;
    }
    let freeMs = Math.min(shortestMs, travelMs);
    for (const ms of new Set([...ladderMs.filter(length => length < travelMs), travelMs])) {
      if (ms <= freeMs) continue;
      await there(ms);
      if (!(await bench.sees(`Free travel at ${ms} ms, without strain at either end?`))) break;
      freeMs = ms;
    }
    return works({ path: ['motor', 'travelMs'], value: freeMs, why: `travelled freely for ${freeMs} ms` });
  } finally {
    motor.drive('off');
  }
};

export const motorTrial: Trial = {
  part: 'motor',
  does: 'drives the focus motor both ways, further step by step',
  cautions: [cautions.flash, cautions.motor, cautions.general],
  unfitted: ({ motor }) => (motor.inLine === null ? 'motor.inLine' : motor.outLine === null ? 'motor.outLine' : ''),
  run,
};
