import { inkOf } from '../../sim/paper/ink.ts';
import { createDesk, type DeskSetup, noise } from './desk.ts';

/** Limits out of the way, so that the head warms as far as one strip can warm it. */
const hot = { hotC: 100, averageWatts: 30 };

export interface Evenness {
  /** Ink of a dot in the first and in the last row, by the virtual paper's own answer to heat; 1 is nominal. */
  firstInk: number;
  lastInk: number;
  headC: number;
}

/** Prints a long dark strip and looks at its two ends. `blind`: the profile doesn't know that a warm head needs less. */
export const measureEvenness = ({ blind = false, internalOhm = 0.15, rows = 3000 } = {}): Evenness => {
  const setup: DeskSetup = {
    profile: { head: { ...hot, ...(blind ? { compensationPerC: 0 } : {}) } },
    config: { printer: { baud: 1_000_000 }, supply: { internalOhm } },
    mechanism: m => ({ ...m, head: { ...m.head, compensationPerC: 0.0075 } }),
  };
  const desk = createDesk(setup);
  desk.clock.runUntil(1e6);
  const strip = noise(384, rows, 0.85);
  const { end } = desk.finish(heard => desk.engine.printBody(strip, heard));
  if (end.kind !== 'done') throw new Error('the strip was not printed');
  const { paper } = desk.printer;
  const inkAt = (row: number) => inkOf(paper.line(paper.at - rows + row).drive);
  return { firstInk: inkAt(0), lastInk: inkAt(rows - 1), headC: desk.printer.headC() };
};
