import { describe, expect, it } from 'vitest';
import { chance } from '../../sim/random.ts';
import type { JobSaid } from '../../src/parts/engine.ts';
import { createDesk, type Desk, type DeskSetup, noise } from './desk.ts';

const fine = { lost: false, paperOut: false, lidOpen: false, headHot: false, offLine: false, nearEnd: false };
const picture = noise(384, 120, 0.35);

const faults: ((desk: Desk, on: boolean) => void)[] = [
  ({ printer }, on) => printer.control.paperOut(on),
  ({ printer }, on) => printer.control.lid(on),
  ({ printer }, on) => printer.control.hot(on),
  ({ printer }, on) => printer.control.silent(on),
  ({ printer }, on) => printer.control.power(!on),
  ({ printer }, on) => (on ? printer.control.unplug() : printer.control.replug()),
  ({ printer }, on) => printer.control.feedButton(on),
  ({ printer }, on) => printer.control.jamCutter(on),
];
const setups: [string, DeskSetup][] = [
  ['asked', {}],
  ['automatic', { profile: { bufferBytes: 4096, commands: { status: 'automatic', heat: 'none' } } }],
  ['never answering', { profile: { commands: { status: 'none' } } }],
  ['rtscts', { config: { printer: { flow: 'rtscts' } } }],
  ['xonxoff', { config: { printer: { flow: 'xonxoff' } } }],
  ['usb', { profile: { bufferBytes: 4096 }, config: { printer: { link: 'usb' } } }],
];

describe.each(setups)('faults at random, %s', (name, setup) => {
  // Where nobody says stop and everything must be asked, what is over between two questions can't be known of.
  const shortestUs = name === 'asked' ? 2_000_000 : 0;

  it('end each job once, and once all are healed a picture is printed whole', () => {
    for (let seed = 1; seed <= 30; seed++) {
      const draw = chance(seed);
      const desk = createDesk(setup);
      const ends: JobSaid[] = [];
      let given = 0;
      let busy = false;
      const give = () => {
        busy = true;
        given++;
        desk.engine.printBody(picture, said => {
          if (said.kind === 'progress') return;
          expect(busy).toBe(true);
          busy = false;
          ends.push(said);
        });
      };
      for (let i = 0; i < 8; i++) {
        if (!busy) give();
        desk.clock.runUntil(desk.clock.nowUs() + draw.whole(0, 900_000));
        const fault = draw.pick(faults);
        fault(desk, true);
        desk.clock.runUntil(desk.clock.nowUs() + draw.whole(shortestUs, 3_000_000));
        fault(desk, false);
      }
      desk.clock.runUntil(desk.clock.nowUs() + 20e6);
      expect(busy).toBe(false);
      expect(ends.length).toBe(given);
      expect(desk.condition()).toEqual(fine);
      give();
      desk.clock.runUntil(desk.clock.nowUs() + 10e6);
      expect(ends.at(-1)).toEqual({ kind: 'done', paperLines: 120 });
      const { paper } = desk.printer;
      // Nobody tells of a cut where nothing answers: then our first row may lie on the last one of what was cut.
      const from = setup.profile?.commands?.status === 'none' ? 48 : 0;
      const printed = paper.dots(paper.at - 120, paper.at).data;
      expect(Buffer.compare(printed.subarray(from), picture.data.subarray(from)), `seed ${seed}`).toBe(0);
    }
  });
});
