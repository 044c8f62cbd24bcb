import type { Bench, Finding, Outcome, Trial } from './bench.ts';
import { fails, unjudged, works } from './bench.ts';
import { cautions } from './cautions.ts';

const shortestMs = 60;
const ladderMs = [120, 200, 300, 400, 600, 900];
/** The lens comes to rest before it is driven the other way. */
const restMs = 150;

/** The other way round; both lines are named where the motor is fitted. */
const exchanged = ({ config: { motor } }: Bench): Finding[] => {
  const why = 'the lens went out first';
  return [
    { path: ['motor', 'inLine'], value: motor.outLine as string | number, why },
    { path: ['motor', 'outLine'], value: motor.inLine as string | number, why },
  ];
};

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
    const reversed = !moved && (await bench.sees('Did it go the other way: out first, then in?'));
    if (!moved && !reversed) {
      bench.say('Then look at the bridge’s supply, and at what holds the lens.\n');
      return fails;
    }
    let freeMs = Math.min(shortestMs, travelMs);
    for (const ms of new Set([...ladderMs.filter(length => length < travelMs), travelMs])) {
      if (ms <= freeMs) continue;
      await there(ms);
      if (!(await bench.sees(`Free travel at ${ms} ms, without strain at either end?`))) break;
      freeMs = ms;
    }
    const travel: Finding = {
      path: ['motor', 'travelMs'],
      value: freeMs,
      why: `travelled freely for ${freeMs} ms`,
    };
    return works(...(reversed ? exchanged(bench) : []), travel);
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
