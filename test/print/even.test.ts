import { describe, expect, it } from 'vitest';
import { inkOf } from '../../sim/paper/ink.ts';
import type { PrintEngine } from '../../src/parts/engine.ts';
import { createDesk, type Desk, noise } from './desk.ts';

/** Ink of a dot at the head of a long dark strip and at its end, by the virtual paper's own answer to heat. */
const inks = (desk: Desk, lines: number): { first: number; last: number } => {
  const { paper } = desk.printer;
  const at = (line: number) => inkOf(paper.line(paper.at - lines + line).drive);
  return { first: at(0), last: at(lines - 1) };
};
const strip = noise(384, 3000, 0.85);
const print = (desk: Desk) => {
  desk.clock.runUntil(1e6);
  const { end } = desk.finish(heard => (desk.engine as PrintEngine).printBody(strip, heard));
  expect(end.kind).toBe('done');
  return inks(desk, strip.heightDots);
};

describe('darkness down a strip', () => {
  const hot = { hotC: 100, averageWatts: 30 };
  const config = { printer: { baud: 1_000_000 } };

  it('stays within 5 % ink from top to bottom while the head warms, against more than 12 % without compensation', () => {
    const even = createDesk({ profile: { head: hot }, config });
    const { first, last } = print(even);
    expect(even.printer.headC()).toBeGreaterThan(50);
    expect(Math.abs(last / first - 1)).toBeLessThan(0.05);
    expect(Math.abs(first - 1)).toBeLessThan(0.05);

    // The same printer, whose profile says that the paper doesn't mind a warm head.
    const uneven = createDesk({
      profile: { head: { ...hot, compensationPerC: 0 } },
      config,
      mechanism: m => ({ ...m, head: { ...m.head, compensationPerC: 0.0075 } }),
    });
    const without = print(uneven);
    expect(Math.abs(without.last / without.first - 1)).toBeGreaterThan(0.12);
  });

  it('is what the battery’s sag would take from it', () => {
    for (const internalOhm of [0, 0.15, 0.3]) {
      const desk = createDesk({ profile: { head: hot }, config: { ...config, supply: { internalOhm } } });
      const { first, last } = print(desk);
      expect(Math.abs(first - 1)).toBeLessThan(0.05);
      expect(Math.abs(last / first - 1)).toBeLessThan(0.05);
    }
  });
});
