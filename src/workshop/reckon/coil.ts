import { cautions } from '../tryout/cautions.ts';
import { createReader, type Given } from './inputs.ts';
import { type Result, type Sheet, shown, sources } from './sheet.ts';
import { ampsAfterMs, coilMj, hotOhm, releaseMs, riseMs, tauMs } from './sums.ts';

/** A winding's insulation of the usual class 130; the pull weakens long before. */
const hottestRiseK = 80;
const windowS = 10;

/** Current and time of the solenoid, its duty and warmth, how it lets go, and the switch that drives it. */
export const coilSheet = (given: Given): Sheet => {
  const read = createReader(given);
  const volts = read.config('supply', 'nominalVolts', 'V', 'supply');
  const ohm = read.config('supply', 'coilOhm', 'Ω', 'coil, cold');
  const mh = read.config('supply', 'coilMh', 'mH', 'coil');
  const pulse = read.config('shutter', 'pulseMs', 'ms', 'one stroke');
  const longest = read.config('shutter', 'longestPulseMs', 'ms', 'hard limit on one stroke');
  const dutyPercent = read.config('shutter', 'dutyPercent', '%', `hard limit on time on within ${windowS} s`);
  const lockoutMs = read.config('shutter', 'lockoutMs', 'ms', 'least time from one picture to the next');
  const pullInAmps = read.extra('pullInAmps');
  const holdAmps = read.extra('holdAmps');
  const riseK = read.extra('coilRiseK');
  const kelvinPerWatt = read.extra('coilKelvinPerWatt');
  const diodeVolts = read.extra('diodeVolts');
  const zenerVolts = read.extra('zenerVolts');
  const gateVolts = read.extra('gateVolts');
  const onMohm = read.extra('onMohm');

  const amps = volts / ohm;
  const pullInMs = riseMs(volts, ohm, mh, pullInAmps);
  const endAmps = ampsAfterMs(volts, ohm, mh, pulse);
  const duty = (2 * pulse) / (2 * pulse + Math.max(lockoutMs, 0));
  const limitWatts = (dutyPercent / 100) * (volts ** 2 / ohm);
  const limitRiseK = limitWatts * kelvinPerWatt;
  const warmOhm = hotOhm(ohm, riseK);
  const warmPullInMs = riseMs(volts, warmOhm, mh, pullInAmps);

  const results: Result[] = [];
  const add = (name: string, value: number, unit: string, help: string, formula: string, source: string) =>
    results.push({ name, value, unit, help, formula, source });
  add('amps', amps, 'A', 'current once it has risen', 'I = V/R', sources.ohm);
  add('tauMs', tauMs(mh, ohm), 'ms', 'time constant', 'τ = L/R', sources.rl);
  add('pullInMs', pullInMs, 'ms', 'until the armature pulls in', '−τ·ln(1 − I·R/V)', sources.rl);
  add('endAmps', endAmps, 'A', 'current at the end of the stroke', 'I·(1 − e^(−t/τ))', sources.rl);
  add(
    'dutyPercent',
    100 * duty,
    '%',
    'duty of two strokes a picture, pictures as fast as may be',
    'on/(on + off)',
    sources.duty,
  );
  add('onMs', dutyPercent * windowS * 10, 'ms', `on within ${windowS} s at most`, 'duty · window', sources.duty);
  add('wattsAtLimit', limitWatts, 'W', 'mean power at that limit', 'duty · V²/R', sources.ohm);
  add('riseAtLimitK', limitRiseK, 'K', 'warming at that limit, for long', 'P · K/W', sources.memory);
  add('hotOhm', warmOhm, 'Ω', 'resistance when warm', 'R·(1 + 0.00393·ΔT)', sources.copper);
  add('hotAmps', volts / warmOhm, 'A', 'current when warm', 'V/R', sources.copper);
  add('hotPullInMs', warmPullInMs, 'ms', 'pull-in when warm', '−τ·ln(1 − I·R/V)', sources.rl);
  add('storedMj', coilMj(mh, endAmps), 'mJ', 'energy that must go somewhere at the end', '½·L·I²', sources.energy);
  add(
    'releaseDiodeMs',
    releaseMs(ohm, mh, endAmps, holdAmps, diodeVolts),
    'ms',
    'release with a diode alone',
    'τ·ln((I + V/R)/(Ih + V/R))',
    sources.release,
  );
  add(
    'releaseZenerMs',
    releaseMs(ohm, mh, endAmps, holdAmps, diodeVolts + zenerVolts),
    'ms',
    'release with diode and zener',
    'τ·ln((I + V/R)/(Ih + V/R))',
    sources.release,
  );
  add(
    'mosfetMw',
    amps ** 2 * onMohm,
    'mW',
    `heat in the MOSFET at a ${shown(gateVolts)} V gate`,
    'I²·Ron',
    sources.ohm,
  );
  add(
    'mosfetVolts',
    volts + diodeVolts + zenerVolts,
    'V',
    'voltage over the MOSFET as it lets go',
    'V + Vd + Vz',
    sources.release,
  );

  const warnings: string[] = [];
  const say = (when: boolean, what: string) => {
    if (when) warnings.push(what);
  };
  say(pulse > longest, `the stroke of ${shown(pulse)} ms is over its hard limit of ${shown(longest)} ms`);
  say(
    !Number.isFinite(pullInMs),
    `the coil never reaches ${shown(pullInAmps)} A: ${shown(amps)} A is all that ${shown(volts)} V gives`,
  );
  say(
    Number.isFinite(pullInMs) && pulse < 2 * pullInMs,
    `the stroke of ${shown(pulse)} ms leaves little beyond the ${shown(pullInMs)} ms until pull-in; the armature needs time to travel, too`,
  );
  say(
    Number.isFinite(pullInMs) && !Number.isFinite(warmPullInMs),
    `warmed by ${shown(riseK)} K the coil gives ${shown(volts / warmOhm)} A and doesn’t pull in any more`,
  );
  say(
    100 * duty > dutyPercent,
    `pictures as fast as shutter.lockoutMs allows would need ${shown(100 * duty)} % duty; the limit of ${shown(dutyPercent)} % then withholds strokes`,
  );
  say(
    limitRiseK > hottestRiseK,
    `at the duty limit the winding warms by ${shown(limitRiseK)} K, more than ${hottestRiseK} K: lower shutter.dutyPercent`,
  );
  say(
    gateVolts < 4 && onMohm > 200,
    `${shown(onMohm)} mΩ at ${shown(gateVolts)} V: choose a MOSFET whose on-resistance is given at 2.5 V or less`,
  );
  const notes = [
    'hold current is 30 to 50 % of pull-in current (solenoid makers’ guides, read)',
    'without suppression a 12 V relay was measured to make 1000 to 1500 V (relay makers’ notes, read)',
    'MOSFET: on-resistance given at a gate of 2.5 V or less; the threshold isn’t ‘on’ (common practice, no source)',
    'gate: 10 to 100 kΩ to ground, so that it is off while the board boots; about 100 Ω in series; a limit on time in hardware (common practice, no source)',
  ];
  const { general, coil, flash } = cautions;
  return { title: 'solenoid', inputs: read.used, results, warnings, notes, cautions: [coil, flash, general] };
};
