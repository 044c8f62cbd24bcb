import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Profile } from '../../src/config/profile.ts';
import { dotsAtOnce, heatingFor, heatingLineUs, powerOf } from '../../src/print/head.ts';
import { createPacer, type PacedStep, pace, type Wire } from '../../src/print/pace.ts';
import { piecesOf } from '../../src/print/pieces.ts';
import { layOut } from '../../src/print/rows.ts';
import { type BandHeat, type BandToHeat, chooseHeat } from '../../src/print/slow.ts';
import { wireOf } from '../../src/print/wire.ts';
import { configOf, noise, profileOf } from './desk.ts';

const rowUs = (black: number, heat: BandHeat, { dotsPerMm, motor }: Profile): number =>
  Math.max(Math.round(1e6 / (dotsPerMm * motor.mmPerS)), Math.round(heatingLineUs(black, heat)) + heat.breakUs);

/** The band as steps, told how to heat first. */
const stepsOf = ({ profile, pieces }: BandToHeat, heat: BandHeat): PacedStep[] => [
  { bytes: 8, takesUs: 0, unbroken: false, heats: false },
  // Of raster, each row is a piece.
  ...Array.from(pieces.sizes, (bytes, row) => ({
    bytes,
    takesUs: rowUs(pieces.black[row], heat, profile),
    unbroken: pieces.unbroken || row > 0,
    heats: true,
  })),
];

/** The search without a shortcut: all that was sent is paced anew for each heat, and every trial goes to its end. */
const searched = (band: BandToHeat, before: readonly PacedStep[], wire: Wire): BandHeat => {
  const { profile, power, pieces, aheadBytes, atOnce, aboveK } = band;
  const leastInterval = Math.round(profile.head.intervalUs / 10);
  const intervals = 255 - leastInterval;
  const slowestUs = 1e6 / (profile.dotsPerMm * profile.motor.slowestMmPerS);
  const darkest = Math.max(...pieces.black);
  const heatOf = (dots: number, level: number): BandHeat => ({
    dotsAtOnce: dots,
    heatingUs: heatingFor(profile, power, dots, aboveK),
    intervalUs: (leastInterval + Math.min(level, intervals)) * 10,
    breakUs: Math.max(0, level - intervals) * 250,
  });
  const was = pace(before, wire);
  const tried = (heat: BandHeat) => {
    const { starved, arrivedUs, endUs } = pace([...before, ...stepsOf(band, heat)], wire);
    const behindUs = aheadBytes === 0 ? 0 : Math.max(0, arrivedUs + aheadBytes * wire.byteUs - endUs);
    return { heat, starved: starved - was.starved, behindUs, us: endUs - was.endUs };
  };
  type Tried = ReturnType<typeof tried>;
  const keepsUp = (one: Tried) => one.starved === 0 && one.behindUs === 0;
  let best = tried(heatOf(atOnce, 0));
  if (keepsUp(best)) return best.heat;
  for (let dots = atOnce; dots >= 8; dots -= 8) {
    let least = 0;
    let most = intervals + (profile.commands.density === 'panel' ? 7 : 0);
    while (most > 0 && rowUs(darkest, heatOf(dots, most), profile) > slowestUs) most--;
    let found = tried(heatOf(dots, most));
    while (keepsUp(found) && least < most) {
      const middle = (least + most) >> 1;
      const attempt = tried(heatOf(dots, middle));
      if (keepsUp(attempt)) {
        most = middle;
        found = attempt;
      } else least = middle + 1;
    }
    if ((found.starved - best.starved || found.behindUs - best.behindUs || found.us - best.us) < 0) best = found;
  }
  return best.heat;
};

describe('the heat of a band', () => {
  const cases = fc.record({
    baud: fc.constantFrom(9600, 19_200, 57_600, 115_200, 230_400, 1_000_000),
    bufferBytes: fc.constantFrom(128, 256, 1024, 4096),
    density: fc.constantFrom('none' as const, 'panel' as const),
    heatingUs: fc.constantFrom(300, 800, 1500),
    ink: fc.constantFrom(0.01, 0.1, 0.35, 0.9),
    change: fc.constantFrom(0, 0.2),
    aboveK: fc.constantFrom(0, 12, 35),
    reserveBytes: fc.constantFrom(0, 18, 96),
    seed: fc.integer({ min: 1, max: 1e6 }),
  });

  it('is what a search without shortcuts finds', () => {
    let slowed = 0;
    fc.assert(
      fc.property(cases, ({ baud, bufferBytes, density, heatingUs, ink, change, aboveK, reserveBytes, seed }) => {
        const profile = profileOf({ bufferBytes, commands: { density }, head: { heatingUs } });
        const config = configOf({ printer: { baud } });
        const wire = wireOf(profile, config.printer);
        const power = powerOf(profile, config.supply);
        const dots = noise(profile.widthDots, 72, y => Math.max(0, ink + change * Math.sin(y / 9)), seed);
        const pacer = createPacer(wire, null);
        const before: PacedStep[] = [];
        const atOnce = dotsAtOnce(profile, power);
        layOut(dots, 24, 8).forEach((one, index, all) => {
          if (one.kind === 'feed') return;
          const next = all[index + 1];
          const pieces = piecesOf(dots, one, index > 0, 'raster');
          const aheadBytes = next?.kind === 'rows' ? next.widthBytes + 25 + reserveBytes : 0;
          const band: BandToHeat = { profile, power, pacer, pieces, aheadBytes, atOnce, aboveK };
          const heat = chooseHeat(band);
          expect(heat).toEqual(searched(band, before, wire));
          if (heat.dotsAtOnce < atOnce || heat.intervalUs > profile.head.intervalUs) slowed++;
          for (const step of stepsOf(band, heat)) {
            pacer.add(step);
            before.push(step);
          }
        });
      }),
      { numRuns: 60 },
    );
    expect(slowed).toBeGreaterThan(20);
  });
});
