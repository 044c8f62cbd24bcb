import { describe, expect, it } from 'vitest';
import type { JobSaid } from '../../src/parts/engine.ts';
import { createDesk, type DeskSetup, noise } from './desk.ts';

/** Runs out of paper in the midst of a picture, `afterUs` from its start, for `forUs`. */
const runOut = (setup: DeskSetup, afterUs: number, forUs: number, rows = 120) => {
  const desk = createDesk(setup);
  const picture = noise(desk.profile.widthDots, rows, 0.35);
  desk.clock.runUntil(5e6);
  const ends: JobSaid[] = [];
  desk.engine.printBody(picture, said => said.kind !== 'progress' && ends.push(said));
  desk.clock.runUntil(5e6 + afterUs);
  desk.printer.control.paperOut(true);
  desk.clock.runUntil(desk.clock.nowUs() + forUs);
  desk.printer.control.paperOut(false);
  desk.clock.runUntil(desk.clock.nowUs() + 12e6);
  return { desk, ends };
};

describe('paper that runs out within a picture', () => {
  // Eight rows a command: often enough the buffer is full just within the header of one.
  it('leaves a printer fit whose buffer cut a command anywhere, and that never says stop', () => {
    const setup: DeskSetup = {
      profile: { widthDots: 288, bufferBytes: 256, commands: { rasterRows: 8, heat: 'none' } },
      config: { printer: { baud: 38_400, flow: 'none' } },
    };
    for (let afterUs = 150_000; afterUs < 350_000; afterUs += 1_477) {
      const { desk, ends } = runOut(setup, afterUs, 5_150_000);
      expect(ends.map(({ kind }) => kind)).toEqual(['stopped']);
      const again = noise(288, 48, 0.5, 3);
      expect(desk.finish(heard => desk.engine.printBody(again, heard)).end.kind).toBe('done');
      const { paper } = desk.printer;
      const printed = paper.dots(paper.at - 48, paper.at).data;
      expect(Buffer.compare(printed, again.data), `out after ${afterUs} µs`).toBe(0);
    }
  });

  // All that is heard of such a stop is that the last byte leaves late; or nothing was to be asked within the picture.
  it.each([
    ['xonxoff', 9600, 3_900_000],
    ['rtscts', 9600, 3_900_000],
    ['rtscts', 115_200, 2_500_000],
  ] as const)(
    'is no picture that went through, though %s at %i Bd held it back for %i µs only',
    (flow, baud, forUs) => {
      const setup: DeskSetup = {
        profile: { widthDots: 288, bufferBytes: 256, commands: { rasterRows: 64, heat: 'none' } },
        config: { printer: { baud, flow } },
      };
      const { desk, ends } = runOut(setup, 100_000, forUs, 41);
      expect(ends.map(({ kind }) => kind)).toEqual(['stopped']);
      expect(desk.condition()?.offLine).toBe(false);
      const again = noise(288, 48, 0.5, 3);
      expect(desk.finish(heard => desk.engine.printBody(again, heard)).end.kind).toBe('done');
      const { paper } = desk.printer;
      expect(Buffer.compare(paper.dots(paper.at - 48, paper.at).data, again.data)).toBe(0);
    },
  );
});
