import { describe, expect, it } from 'vitest';
import { blackDots } from '../../src/parts/black-dots.ts';
import {
  coolsInUs,
  dotsAtOnce,
  headAmps,
  headVolts,
  heatingFor,
  heatingLineUs,
  lineJoules,
  motorLineUs,
  type Power,
  powerOf,
  supplyDots,
  warm,
  warmestK,
} from '../../src/print/head.ts';
import { configOf, profileOf } from './desk.ts';

/** A source that doesn't give way. */
const stiff = (openVolts: number): Power => ({
  openVolts,
  internalOhm: 0,
  floorVolts: openVolts,
  boardAmps: 0,
  coilAmps: 0,
});

describe('line time', () => {
  it('is ⌈black / at once⌉ · (heating + interval): 4.92 ms and 6.4 ms for a black line of 384', () => {
    // Panel class, calculated from its manual's units: 64 dots, 80 · 10 µs, 2 · 10 µs; and 11/120/40.
    expect(heatingLineUs(384, { dotsAtOnce: 64, heatingUs: 800, intervalUs: 20 })).toBe(4920);
    expect(heatingLineUs(384, { dotsAtOnce: 96, heatingUs: 1200, intervalUs: 400 })).toBe(6400);
    expect(1e3 / (4.92 * 8)).toBeCloseTo(25.4, 1);
    expect(1e3 / (6.4 * 8)).toBeCloseTo(19.5, 1);
  });

  it('follows the worked example of a mechanism’s manual: 64 dots, 6 strobes, 10.6 ms, 11.8 mm/s', () => {
    // 2.53 ms · (5²/6²) = 1.76 ms; 2.4 A / (6 V / 160 Ω) = 64 dots.
    const profile = profileOf({ head: { heatingUs: 2530, volts: 5, elementOhm: 160, dotsAtOnce: 384 } });
    const heatingUs = heatingFor(profile, stiff(6), 64, 0);
    expect(heatingUs).toBe(1760);
    const limited: Power = { openVolts: 8.4, internalOhm: 1, floorVolts: 6, boardAmps: 0, coilAmps: 0 };
    expect(supplyDots(160, limited)).toBe(64);
    expect(dotsAtOnce(profile, limited)).toBe(64);
    const lineUs = heatingLineUs(384, { dotsAtOnce: 64, heatingUs, intervalUs: 0 });
    expect(lineUs / 1000).toBeCloseTo(10.6, 1);
    expect(1e6 / (lineUs * 8)).toBeCloseTo(11.8, 1);
  });

  it('of the motor is what its speed says', () => {
    expect(motorLineUs(profileOf({ motor: { mmPerS: 50 } }))).toBe(2500);
  });
});

// Formulas and figures of elements and paper as mechanisms’ technical references give them (read); what comes of them here
// was calculated by hand.
describe('energy and current', () => {
  it('peak current I = N·V/R: 64 dots of 166 Ω at 7.4 V draw 2.85 A, 384 draw 17.1 A', () => {
    expect(headAmps(64, 166, stiff(7.4))).toBeCloseTo(2.85, 2);
    expect(headAmps(384, 166, stiff(7.4))).toBeCloseTo(17.1, 1);
  });

  it.each([
    [0.3061, 245, 7.4, 1370],
    [0.3, 176, 5, 2110],
    [0.3, 176, 7.4, 960],
  ])('%f mJ at %i Ω and %f V take %i µs: t = E·R/V²', (mJ, elementOhm, volts, heatingUs) => {
    const profile = profileOf({ head: { elementOhm } });
    const setting = { dotsAtOnce: 64, heatingUs, intervalUs: 0 };
    expect(lineJoules(1, setting, profile, stiff(volts)) * 1000).toBeCloseTo(mJ, 2);
  });

  it('a picture of 384 × 560 dots, 30 % black, at 0.3 mJ needs 19.4 J', () => {
    const profile = profileOf({ head: { elementOhm: 176 } });
    const heatingUs = (0.3e-3 * 176 * 1e6) / 7.4 ** 2;
    const dots = 384 * 0.3;
    const line = lineJoules(dots, { dotsAtOnce: 64, heatingUs, intervalUs: 0 }, profile, stiff(7.4));
    expect(line * 560).toBeCloseTo(19.4, 1);
  });

  it('a warm head needs less: E = E25 + (25 − T)·Tc, 0.3061 mJ with 0.003542 is 0.235 mJ at 45 °C', () => {
    const profile = profileOf({ head: { heatingUs: 1370, compensationPerC: 0.003542 / 0.3061 } });
    const ratio = heatingFor(profile, stiff(7.4), 64, 20) / heatingFor(profile, stiff(7.4), 64, 0);
    expect(ratio).toBeCloseTo(0.235 / 0.3061, 2);
  });

  // Cell data sheets: 20 to 80 mΩ a new cylindrical cell, sag = current · resistance (read); calculated.
  it('two cells of 50 mΩ and 50 mΩ of wire sag 0.43 V at 2.85 A, which costs 11 % of the energy', () => {
    // The table holds the current fixed; a resistive head draws a little less as the voltage gives way.
    const power: Power = { openVolts: 7.4, internalOhm: 0.15, floorVolts: 6, boardAmps: 0, coilAmps: 0 };
    expect(0.15 * headAmps(64, 166, stiff(7.4))).toBeCloseTo(0.43, 2);
    const volts = headVolts(64, 166, power);
    expect(7.4 - volts).toBeGreaterThan(0.39);
    expect(7.4 - volts).toBeLessThan(0.43);
    expect(1 - (volts / 7.4) ** 2).toBeCloseTo(0.11, 2);
    const profile = profileOf({ head: { elementOhm: 166, heatingUs: 1000 } });
    expect(heatingFor(profile, power, 64, 0)).toBe(Math.round((1000 * (7.4 / volts) ** 2) / 10) * 10);
  });

  it('counts black dots', () => {
    expect(blackDots(Uint8Array.of(0xff, 0x01, 0x80, 0xff), 1, 4)).toBe(10);
  });
});

describe('supply', () => {
  it('keeps a step of eight under profile and supply, coil and board drawing too', () => {
    const profile = profileOf();
    const power = powerOf(profile, configOf({ supply: { internalOhm: 0.6 } }).supply);
    const dots = dotsAtOnce(profile, power);
    expect(dots % 8).toBe(0);
    expect(dots).toBeLessThan(64);
    const sagged = (n: number) => 7.4 - 0.6 * ((n * 6.2) / 176 + power.boardAmps + power.coilAmps);
    expect(sagged(dots)).toBeGreaterThanOrEqual(6.2);
    expect(sagged(dots + 8)).toBeLessThan(6.2);
  });

  it('leaves eight dots on the weakest battery, and none to reckon with', () => {
    const weak: Power = { openVolts: 6, internalOhm: 2, floorVolts: 6.2, boardAmps: 0.3, coilAmps: 0.6 };
    expect(supplyDots(176, weak)).toBe(0);
    expect(dotsAtOnce(profileOf(), weak)).toBe(8);
  });

  it('is no limit for a printer with an adapter of its own, nor told to one without the command', () => {
    const own = profileOf({ ownSupply: true, commands: { heat: 'none' }, head: { volts: 24, dotsAtOnce: 200 } });
    const power = powerOf(own, configOf().supply);
    expect(headVolts(200, 650, power)).toBe(24);
    expect(dotsAtOnce(own, power)).toBe(200);
    expect(heatingFor(own, power, 200, 30)).toBe(own.head.heatingUs);
  });

  // 1B 37: heating is n2 · 10 µs (command manuals, read); that n2 goes from 3 to 255 is from memory.
  it('keeps the heating time within the command’s range', () => {
    expect(heatingFor(profileOf({ head: { heatingUs: 2500 } }), stiff(5), 64, 0)).toBe(2550);
    expect(heatingFor(profileOf({ head: { heatingUs: 40 } }), stiff(7.4), 64, 1000)).toBe(30);
  });
});

describe('head temperature', () => {
  const profile = profileOf({ head: { kelvinPerWatt: 6, timeConstantS: 25 } });

  // First-order response, 1 − 1/e after one time constant (textbook).
  it('goes by 63.2 % of the way in one time constant, warming and cooling', () => {
    expect(warm(0, 5, 25e6, profile)).toBeCloseTo(30 * (1 - Math.exp(-1)), 9);
    expect(warm(30, 0, 25e6, profile)).toBeCloseTo(30 * Math.exp(-1), 9);
  });

  it('is the same in one step and in many', () => {
    let aboveK = 3;
    for (let i = 0; i < 1000; i++) aboveK = warm(aboveK, 4, 2500, profile);
    expect(aboveK).toBeCloseTo(warm(3, 4, 2_500_000, profile), 9);
  });

  it('says how long it cools', () => {
    expect(coolsInUs(10, 20, profile)).toBe(0);
    expect(warm(40, 0, coolsInUs(40, 10, profile), profile)).toBeCloseTo(10, 4);
  });

  it('is limited by temperature or by mean power, whichever is less', () => {
    expect(warmestK(profileOf({ head: { hotC: 65, ambientC: 25, averageWatts: 6, kelvinPerWatt: 6 } }))).toBe(36);
    expect(warmestK(profileOf({ head: { hotC: 50, ambientC: 25, averageWatts: 6, kelvinPerWatt: 6 } }))).toBe(25);
  });
});
