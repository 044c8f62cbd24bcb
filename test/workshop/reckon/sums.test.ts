import { describe, expect, it } from 'vitest';
import { loadProfile } from '../../../src/config/load-profile.ts';
import { rollLengthMm } from '../../../src/roll/roll.ts';
import * as sums from '../../../src/workshop/reckon/sums.ts';

// Worked examples. 'read': a published source was read; 'calculated': the formula applied by hand; sources are named by kind.
describe('head (thermal mechanisms’ technical references)', () => {
  it('I = N·V/R at 7.4 V and 166 Ω: 64 dots 2.85 A, 384 dots 17.1 A (calculated)', () => {
    expect(sums.peakAmps(64, 7.4, 166)).toBeCloseTo(2.85, 2);
    expect(sums.peakAmps(384, 7.4, 166)).toBeCloseTo(17.1, 1);
  });
  it('the manual’s own example: 2.4 A at 6 V and 160 Ω are 64 dots (read)', () => {
    expect(sums.peakAmps(64, 6, 160)).toBeCloseTo(2.4, 10);
  });
  it('0.3061 mJ at 25 °C with 0.003542 mJ/°C is 0.235 mJ at 45 °C (calculated from a manual’s figures)', () => {
    expect(sums.energyAtC(0.3061, 0.003542, 45)).toBeCloseTo(0.235, 3);
  });
  it('t = E·R/V²: 0.3061 mJ, 245 Ω, 7.4 V is 1.37 ms; 0.3 mJ, 176 Ω is 2.11 ms at 5 V, 0.96 ms at 7.4 V (calculated)', () => {
    expect(sums.pulseMs(0.3061, 245, 7.4)).toBeCloseTo(1.37, 2);
    expect(sums.pulseMs(0.3, 176, 5)).toBeCloseTo(2.11, 2);
    expect(sums.pulseMs(0.3, 176, 7.4)).toBeCloseTo(0.96, 2);
  });
  it('the manual’s example: 2.53 ms at 5 V is 1.76 ms at 6 V (read)', () => {
    expect(sums.pulseAtVolts(2.53, 5, 6)).toBeCloseTo(1.76, 2);
  });
  it('its example goes on: 6 strobes of 64 dots are 10.6 ms a row, 11.8 mm/s at 8 dots a millimetre (read)', () => {
    // The manual goes on with the rounded figure.
    const strobeMs = Number(sums.pulseAtVolts(2.53, 5, 6).toFixed(2));
    const rowMs = sums.blackLineMs(384, 7, strobeMs * 100, 0);
    expect(rowMs).toBeCloseTo(10.6, 1);
    expect(1000 / (8 * rowMs)).toBeCloseTo(11.8, 1);
  });
  it('rows of 384 and 576 dots at 0.125 mm are 48 and 72 mm (calculated)', () => {
    for (const [name, widthMm] of [
      ['panel-58mm', 48],
      ['panel-80mm', 72],
    ] as const) {
      const { widthDots, dotsPerMm } = loadProfile(name);
      expect([1 / dotsPerMm, widthDots / dotsPerMm]).toEqual([0.125, widthMm]);
    }
  });
  it('energy and pulse are each other’s inverse', () => {
    expect(sums.dotMj(7.4, 1000 * sums.pulseMs(0.3, 176, 7.4), 176)).toBeCloseTo(0.3, 12);
  });
  it('worst black line: defaults 6·0.82 = 4.92 ms, 11/120/40 is 6.4 ms (calculated; command manuals)', () => {
    expect(sums.blackLineMs(384, 7, 80, 2)).toBeCloseTo(4.92, 10);
    expect(sums.blackLineMs(384, 11, 120, 40)).toBeCloseTo(6.4, 10);
  });
});

describe('battery (cell data sheets)', () => {
  it('50 mΩ at 3 A sag 150 mV (read)', () => {
    expect(sums.sagVolts(3, 0.05)).toBeCloseTo(0.15, 10);
  });
  it('a pack is series · R / parallel and its wiring (read)', () => {
    expect(sums.packOhm(2, 1, 0.05, 0.05)).toBeCloseTo(0.15, 10);
    expect(sums.packOhm(2, 2, 0.05, 0)).toBeCloseTo(0.05, 10);
  });
  it('two cells of 50 mΩ and 50 mΩ of wiring at 2.85 A: 0.43 V, 11 % of the head’s energy at 7.4 V (calculated)', () => {
    const sag = sums.sagVolts(2.85, 2 * 0.05 + 0.05);
    expect(sag).toBeCloseTo(0.43, 2);
    expect(sums.energyMissing(7.4, sag)).toBeCloseTo(0.11, 2);
  });
  it('18.5 Wh last a 2 W board 7.9 h at 85 % (calculated)', () => {
    expect(sums.batteryHours(18.5, 2, 0.85)).toBeCloseTo(7.9, 1);
  });
});

describe('coil (textbook; relay and solenoid makers’ guides)', () => {
  it('12 V, 150 Ω, 30 mH: τ 0.2 ms, 50 mA after 0.196 ms (read, textbook)', () => {
    expect(sums.tauMs(30, 150)).toBeCloseTo(0.2, 12);
    expect(sums.riseMs(12, 150, 30, 0.05)).toBeCloseTo(0.196, 3);
  });
  it('12 V, 12 Ω, 20 mH: τ 1.67 ms, 60 % after 1.53 ms (calculated)', () => {
    expect(sums.tauMs(20, 12)).toBeCloseTo(1.67, 2);
    expect(sums.riseMs(12, 12, 20, 0.6)).toBeCloseTo(1.53, 2);
    expect(sums.ampsAfterMs(12, 12, 20, 1.5272)).toBeCloseTo(0.6, 3);
  });
  it('12 Ω warmed by 60 K are 14.8 Ω: 1.00 A becomes 0.81 A (calculated)', () => {
    expect(sums.hotOhm(12, 60)).toBeCloseTo(14.8, 1);
    expect(12 / sums.hotOhm(12, 60)).toBeCloseTo(0.81, 2);
  });
  it('1 to 0.2 A: with a 0.7 V diode 2.35 ms, with a 24 V zener in series 0.51 ms (calculated)', () => {
    expect(sums.releaseMs(12, 20, 1, 0.2, 0.7)).toBeCloseTo(2.35, 2);
    expect(sums.releaseMs(12, 20, 1, 0.2, 24.7)).toBeCloseTo(0.51, 2);
  });
  it('what can’t be: a current that is never reached, a release from below', () => {
    expect(sums.riseMs(12, 12, 20, 1)).toBe(Number.POSITIVE_INFINITY);
    expect(sums.releaseMs(12, 20, 0.1, 0.2, 0.7)).toBe(0);
  });
  it('½·L·I²: 20 mH at 1 A hold 10 mJ (textbook)', () => {
    expect(sums.coilMj(20, 1)).toBe(10);
  });
});

describe('serial line (8N1)', () => {
  it('0.9 s at 115 200 baud are 10 368 bytes; at 1 000 000 baud the same text takes 0.104 s (calculated)', () => {
    expect(0.9 * sums.bytesPerS(115_200)).toBe(10_368);
    expect(sums.consoleS(10_368, 1_000_000)).toBeCloseTo(0.104, 3);
  });
  it('50 mm/s of 384 dots are 192 000 baud: least baud is 3 840 · v (calculated)', () => {
    expect(sums.leastBaud(50, 48, 8, 0)).toBe(192_000);
    expect(sums.leastBaud(1, 48, 8, 0)).toBe(3840);
  });
  it.each([
    [9600, 2.5],
    [19_200, 5],
    [115_200, 30],
    [230_400, 60],
  ])('%d baud feed %d mm/s (calculated)', (baud, mmPerS) => {
    expect(sums.lineMmPerS(baud, 48, 8, 0)).toBeCloseTo(mmPerS, 10);
  });
  it('a header every 24 rows adds 0.7 % (calculated)', () => {
    expect(sums.leastBaud(50, 48, 8, 8 / (24 * 48)) / 192_000 - 1).toBeCloseTo(0.007, 3);
  });
});

// Length of a strip on a core: the formula was read, the table is calculated.
describe('paper', () => {
  it.each([
    [30, [10.8, 9.9, 9.1], [116, 86]],
    [40, [20.8, 19.1, 17.6], [224, 165]],
    [50, [33.6, 30.8, 28.5], [362, 268]],
  ])('a roll of %d mm on a 12 mm core', (rollOuterMm, metres, pictures) => {
    const lengthMm = (paperUm: number) => rollLengthMm({ rollOuterMm, rollCoreMm: 12, paperUm });
    expect([55, 60, 65].map(um => Math.round(lengthMm(um) / 100) / 10)).toEqual(metres);
    expect([85, 115].map(mm => Math.floor(lengthMm(60) / mm))).toEqual(pictures);
  });
});
