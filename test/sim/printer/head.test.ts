import { describe, expect, it } from 'vitest';
import { darknessOf, dotRadiusOf, inkOf } from '../../../sim/paper/ink.ts';
import {
  createHead,
  densitySetting,
  type HeatSetting,
  heatingTimeUs,
  startingHeat,
} from '../../../sim/printer/head.ts';
import { mechanismOf } from '../../../sim/printer/mechanism.ts';
import { defaultProfile } from '../../../src/config/profile.ts';

const mechanism = mechanismOf(defaultProfile());
const heat: HeatSetting = { dotsAtOnce: 64, heatingUs: 800, intervalUs: 20, density: 1, breakUs: 0 };

describe('heating time', () => {
  it('is ⌈dots / at once⌉ · (heating + interval): 4.92 and 6.4 ms for 384 (calculated)', () => {
    expect(heatingTimeUs(384, heat)).toBe(4920);
    expect(heatingTimeUs(384, { ...heat, dotsAtOnce: 96, heatingUs: 1200, intervalUs: 400 })).toBe(6400);
    expect(heatingTimeUs(0, heat)).toBe(0);
  });

  it('starts as the panel class does, or as a printer without the command is built', () => {
    expect(startingHeat(mechanism)).toEqual(heat);
    const plain = {
      ...mechanism,
      knows: { ...mechanism.knows, heat: false },
      head: { ...mechanism.head, heatingUs: 1000, dotsAtOnce: 48 },
    };
    expect(startingHeat(plain)).toMatchObject({ heatingUs: 1000, dotsAtOnce: 48 });
  });

  it('reads the density argument: 50 % + 5 % a step, break in 250 µs (manual)', () => {
    expect(densitySetting(0x0a, false)).toEqual({ density: 1, breakUs: 0 });
    expect(densitySetting(0xff, false)).toEqual({ density: 2.05, breakUs: 1750 });
  });
});

// Energy of a dot by Ohm’s law, first-order response (textbook); thermal resistance and time constant are the profile’s.
describe('the head as a first-order body', () => {
  const { elementOhm, kelvinPerWatt, timeConstantS } = mechanism.head;

  it('gives a dot V² t / R: 0.249 mJ at 7.4 V, 176 Ω, 0.8 ms (calculated)', () => {
    const head = createHead(mechanism);
    head.fire(1000, 5000, heat, 7.4, 0);
    expect(head.joules / 1000).toBeCloseTo((7.4 ** 2 * 0.8e-3) / 176, 9);
    expect(head.joules).toBeCloseTo(0.249, 3);
  });

  it('settles at power · resistance above the room, 63.2 % of it after one time constant', () => {
    const head = createHead(mechanism);
    const lineUs = 5000;
    const watts = (100 * ((7.4 ** 2 / elementOhm) * 800e-6)) / (lineUs * 1e-6);
    const lines = (timeConstantS * 1e6) / lineUs;
    for (let i = 0; i < lines; i++) head.fire(100, lineUs, heat, 7.4, i * lineUs);
    expect(head.temperatureC(timeConstantS * 1e6) - 25).toBeCloseTo(watts * kelvinPerWatt * (1 - Math.exp(-1)), 6);
    for (let i = lines; i < 20 * lines; i++) head.fire(100, lineUs, heat, 7.4, i * lineUs);
    expect(head.temperatureC(20 * timeConstantS * 1e6) - 25).toBeCloseTo(watts * kelvinPerWatt, 3);
  });

  it('cools when it said it would', () => {
    const head = createHead(mechanism);
    for (let i = 0; i < 2000; i++) head.fire(384, 5000, heat, 7.4, i * 5000);
    const warm = head.temperatureC(10e6);
    expect(warm).toBeGreaterThan(45);
    const inUs = head.coolsInUs(30, 10e6);
    expect(head.temperatureC(10e6 + inUs)).toBeCloseTo(30, 6);
    expect(head.coolsInUs(20, 10e6 + inUs)).toBe(Number.POSITIVE_INFINITY);
    expect(head.coolsInUs(31, 10e6 + inUs)).toBe(0);
  });

  it('needs less energy when warm: drive rises by the compensation for each degree', () => {
    const head = createHead(mechanism);
    expect(head.fire(0, 2500, heat, 7.4, 0)).toBe(1);
    head.ambient(45, 0);
    // The body itself is still cold.
    expect(head.fire(0, 2500, heat, 7.4, 1)).toBeCloseTo(1, 6);
    expect(head.fire(0, 2500, heat, 7.4, 1e9)).toBeCloseTo(1 / (1 - 0.0075 * 20), 6);
    expect(head.fire(0, 2500, { ...heat, heatingUs: 400 }, 7.4, 1e9)).toBeCloseTo(0.5 / 0.85, 6);
    expect(head.fire(0, 2500, heat, 3.7, 1e9)).toBeCloseTo(0.25 / 0.85, 6);
  });
});

describe('ink for drive', () => {
  it('is 1 at nominal, nothing without heat, and grows with drive', () => {
    expect(inkOf(1)).toBeCloseTo(1, 9);
    expect(darknessOf(0)).toBe(0);
    expect(darknessOf(0.4)).toBeLessThan(0.1);
    const inks = Array.from({ length: 40 }, (_, i) => inkOf(i / 20));
    expect(inks).toEqual([...inks].sort((a, b) => a - b));
    expect(dotRadiusOf(1, 0.65)).toBe(0.65);
  });
});
