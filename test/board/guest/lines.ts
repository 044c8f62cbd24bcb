import { setTimeout as sleep } from 'node:timers/promises';
import { describe, expect, it } from 'vitest';
import { createButton } from '../../../src/linux/button.ts';
import type { Gpio } from '../../../src/linux/gpio/lines.ts';
import { openGpio } from '../../../src/linux/gpio/open.ts';
import { processHost } from '../../../src/linux/inlet.ts';
import { createLamp, lineLight } from '../../../src/linux/lamp.ts';
import { createMotor } from '../../../src/linux/motor.ts';
import { createShutter } from '../../../src/linux/shutter.ts';
import { createSupervisor } from '../../../src/linux/supervisor.ts';
import { createTiming } from '../../../src/linux/timing.ts';
import { isFault } from '../../../src/parts/fault.ts';
import { buttonContract } from '../../contracts/button.ts';
import { lampContract } from '../../contracts/lamp.ts';
import type { Passing } from '../../contracts/make.ts';
import { motorContract, motorLimits } from '../../contracts/motor.ts';
import { shutterContract, shutterLimits } from '../../contracts/shutter.ts';
import { runAll } from './suite.ts';
import { createTracepoint, pullLine } from './tracepoint.ts';
import { startWitness } from './witness.ts';

const offsets = { button: 17, coil: 27, lamp: 22, in: 23, out: 24 };
const timing = createTiming();

const witness = await startWitness();
/** What a part's own code may need, emulated: thirty times slower than a board. */
const driveUs = 40_000;
/** Beside that, what this kernel needed to wake a bare thread while the case ran. */
const passing = (gpio: Gpio): Passing => {
  const beganUs = processHost.monotonicUs();
  return {
    pass: ms => sleep(ms),
    nowUs: processHost.monotonicUs,
    graceUs: () => driveUs + witness.worstUs(beganUs),
    done: () => gpio.close(),
  };
};

for (const access of ['chip', 'sysfs'] as const) {
  const open = () => {
    const gpio = openGpio(access, access === 'chip' ? 'body' : 'gpiochip0');
    return { gpio, time: passing(gpio) };
  };

  buttonContract(access, async () => {
    pullLine(offsets.button, true);
    const { gpio, time } = open();
    const id = access === 'chip' ? 'BUTTON' : offsets.button;
    const line = gpio.input(id, { activeLow: true, pull: 'up', debounceUs: 0, use: 'button' });
    return {
      ...time,
      // By sysfs an edge is stamped when it is heard, by the chip when it happened.
      graceUs: () => time.graceUs() + (access === 'sysfs' ? 360_000 : 0),
      button: createButton(line, stampUs => Math.round(stampUs)),
      contact: down => pullLine(offsets.button, !down),
      done() {
        line.close();
        time.done();
      },
    };
  });

  shutterContract(access, async () => {
    const { gpio, time } = open();
    const line = gpio.output(offsets.coil, { activeLow: false, use: 'coil' });
    const supervisor = createSupervisor(line.letGo, new URL('./supervisor.mjs', import.meta.url), why => {
      throw new Error(`the supervisor ended: ${why}`);
    });
    while (!supervisor.up) await sleep(10);
    const trace = createTracepoint();
    const shutter = createShutter({
      timing,
      line,
      limits: shutterLimits,
      supervisor,
      onLimit() {},
      fromMonotonicUs: stampUs => stampUs,
    });
    return {
      ...time,
      shutter,
      async pulses() {
        const changes = trace.changes([offsets.coil]);
        return changes
          .map(({ atUs, high }, i) => ({ high, fromUs: atUs, toUs: changes[i + 1]?.atUs ?? null }))
          .filter(({ high }) => high);
      },
      done() {
        shutter.close();
        time.done();
      },
    };
  });

  lampContract(access, async () => {
    const { gpio, time } = open();
    const trace = createTracepoint();
    const lamp = createLamp(timing, lineLight(gpio.output(offsets.lamp, { activeLow: false, use: 'lamp' })));
    return {
      ...time,
      lamp,
      changes: async () => trace.changes([offsets.lamp]).map(({ atUs, high }) => ({ atUs, lit: high })),
      done() {
        lamp.close();
        time.done();
      },
    };
  });

  motorContract(access, async () => {
    const { gpio, time } = open();
    const trace = createTracepoint();
    const side = (offset: number, use: string) => gpio.output(offset, { activeLow: false, use });
    const motor = createMotor(timing, { in: side(offsets.in, 'in'), out: side(offsets.out, 'out') }, motorLimits);
    return {
      ...time,
      motor,
      changes: async () =>
        trace
          .changes([offsets.in, offsets.out])
          .map(({ atUs, offset, high }) => ({ atUs, side: offset === offsets.in ? 'in' : 'out', on: high })),
      done() {
        motor.close();
        time.done();
      },
    };
  });
}

describe('lines that can’t be had', () => {
  const nobody = 65_534;
  const options = { activeLow: false, use: 'coil' };
  const faultOf = (act: () => unknown) => {
    try {
      act();
    } catch (error) {
      if (isFault(error)) return { code: error.code, said: error.message, mend: error.mend ?? '' };
      throw error;
    }
    throw new Error('it was to be had');
  };
  const asNobody = <T>(act: () => T): T => {
    process.seteuid?.(nobody);
    try {
      return act();
    } finally {
      process.seteuid?.(0);
    }
  };
  const taken = 5;

  it('by the chip: a busy line names who has it, and what to end', () => {
    const gpio = openGpio('chip', 'gpiochip0');
    const { code, said, mend } = faultOf(() => gpio.output(taken, options));
    gpio.close();
    expect(code).toBe('part-busy');
    expect(said).toBe("GPIO: line 5 of /dev/gpiochip0, for the coil, is in use by 'somebody'");
    expect(mend).toContain('choose another line');
  });
  it('by sysfs: a busy line is named by both of its numbers', () => {
    const { code, said, mend } = faultOf(() => openGpio('sysfs', 'body').output(taken, options));
    expect(code).toBe('part-busy');
    expect(said).toMatch(/line 5 of 'body' \(sysfs \d+\), for the coil, is in use/);
    expect(mend).toContain('choose another line');
  });
  it('a chip that isn’t there: the ones that are there are offered', () => {
    const byChip = faultOf(() => openGpio('chip', 'gpiochip9'));
    expect([byChip.code, byChip.said]).toEqual(['part-missing', "GPIO: there is no chip 'gpiochip9'"]);
    expect(byChip.mend).toContain("gpiochip0 ('body')");
    const bySysfs = faultOf(() => openGpio('sysfs', 'other'));
    expect([bySysfs.code, bySysfs.said]).toEqual(['part-missing', "GPIO: sysfs shows no chip 'other'"]);
    expect(bySysfs.mend).toContain("'body'");
    expect(faultOf(() => openGpio('auto', 'other')).said).toContain('nor by sysfs');
  });
  it('a line that the chip doesn’t have, by number and by name', () => {
    const gpio = openGpio('chip', 'body');
    const byNumber = faultOf(() => gpio.output(32, options));
    const byName = faultOf(() => gpio.output('SPOOL', options));
    gpio.close();
    expect([byNumber.code, byNumber.mend]).toEqual(['part-missing', 'it has 0 to 31']);
    expect(byName.said).toContain("no line named 'SPOOL' for the coil");
    expect(faultOf(() => openGpio('sysfs', 'body').output('COIL', options)).mend).toContain('gpio.access to chip');
  });
  it('no permission: the group to join, by either access', () => {
    const byChip = asNobody(() => faultOf(() => openGpio('chip', 'gpiochip0')));
    expect([byChip.code, byChip.said]).toEqual(['part-denied', 'GPIO: no permission for /dev/gpiochip0']);
    expect(byChip.mend).toContain("'gpio'");
    const bySysfs = asNobody(() => faultOf(() => openGpio('sysfs', 'body').output(6, options)));
    expect([bySysfs.code, bySysfs.mend]).toEqual(['part-denied', byChip.mend]);
  });
});

await runAll(process.argv[2]);
witness.stop();
process.exit(0);
