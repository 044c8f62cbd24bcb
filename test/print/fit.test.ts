import { describe, expect, it } from 'vitest';
import { loadProfile } from '../../src/config/load-profile.ts';
import { lineFits } from '../../src/print/fit.ts';
import { configOf, createDesk, noise, profileOf } from './desk.ts';

const at = (baud: number, profile = profileOf(), supply = {}) =>
  lineFits(configOf({ printer: { baud }, supply }), profile);

describe('how line and printer fit', () => {
  // Least baud = 3,840 · v for 384 dots, and 0.7 % for a header every 24 rows; 8N1.
  it('needs 192,000 baud and 0.7 % for 50 mm/s, hence 230,400', () => {
    expect(at(230_400).leastBaud).toBeCloseTo(192_000 * 1.007, -2);
    expect(at(230_400).verdict).toBe('keeps up');
    expect(at(115_200).wireMmPerS).toBeCloseTo(30 / 1.007, 1);
    expect(at(9600).wireMmPerS).toBeCloseTo(2.5 / 1.007, 2);
  });

  // Panel class, calculated from its manual’s units: 64 dots at once, 80 · 10 µs, 2 · 10 µs.
  it('knows a black row: 4.92 ms, 25.4 mm/s', () => {
    expect(at(230_400).blackRowUs).toBe(4920);
    expect(at(230_400).blackMmPerS).toBeCloseTo(25.4, 1);
    expect(at(230_400).motorMmPerS).toBe(50);
  });

  it('slows the head for a slower wire, as far as rows are dark enough for that', () => {
    const slow = at(57_600);
    expect(slow.verdict).toBe('stands');
    expect(slow.standsBelowInk).toBeLessThan(0.1);
    const withBreak = at(115_200, profileOf({ commands: { density: 'panel' } }));
    expect(withBreak).toMatchObject({ verdict: 'slowed', standsBelowInk: 0 });
    // The virtual printer agrees on both sides of the limit.
    for (const [ink, stands] of [
      [slow.standsBelowInk / 2, true],
      [slow.standsBelowInk * 2, false],
    ] as const) {
      const desk = createDesk({ config: { printer: { baud: 57_600 } } });
      desk.finish(heard => desk.engine.printBody(noise(384, 240, ink), heard));
      expect(desk.printer.stats().starvedLines > 0).toBe(stands);
    }
  });

  it('can do nothing for a printer that isn’t told how to heat', () => {
    expect(at(115_200, loadProfile('receipt-58mm'))).toMatchObject({ verdict: 'stands', standsBelowInk: 1 });
    expect(at(460_800, loadProfile('receipt-58mm')).verdict).toBe('keeps up');
    expect(at(115_200, loadProfile('receipt-80mm'))).toMatchObject({ verdict: 'stands', standsBelowInk: 1 });
    expect(at(1_000_000, loadProfile('receipt-80mm')).verdict).toBe('keeps up');
  });

  it('has no least baud where there is no serial line', () => {
    const usb = lineFits(configOf({ printer: { link: 'usb' } }), loadProfile('usb-58mm'));
    expect(usb).toMatchObject({ leastBaud: null, verdict: 'keeps up', supplyHolds: true });
  });

  it('says what the head draws, and whether the supply bears it', () => {
    const stiff = at(230_400, profileOf(), { internalOhm: 0 });
    // I = N·V/R.
    expect(stiff.peakAmps).toBeCloseTo((64 * 7.4) / 176, 6);
    expect(stiff).toMatchObject({ dotsAtOnce: 64, peakVolts: 7.4, supplyHolds: true });
    const weak = at(230_400, profileOf({ commands: { heat: 'none' }, head: { dotsAtOnce: 384 } }));
    expect(weak.supplyHolds).toBe(false);
    expect(at(230_400, profileOf(), { internalOhm: 0.6 })).toMatchObject({ dotsAtOnce: 24, supplyHolds: true });
  });
});
