import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { createDecoder, type Orders } from '../../sim/printer/decoder.ts';
import type { Profile } from '../../src/config/profile.ts';
import type { Dots } from '../../src/parts/darkroom.ts';
import { powerOf } from '../../src/print/head.ts';
import { pace } from '../../src/print/pace.ts';
import { planSheet, type Sheet } from '../../src/print/plan.ts';
import { createPlanner, type Plan } from '../../src/print/planner.ts';
import { layOut, layOutStripes, stack } from '../../src/print/rows.ts';
import { wireOf } from '../../src/print/wire.ts';
import { configOf, hex, noise, type Part, profileOf } from './desk.ts';

interface SituationPart {
  profile?: Part<Profile>;
  baud?: number;
  aboveK?: number;
  internalOhm?: number;
}
const planned = (sheet: Sheet, { profile: part, baud = 115_200, aboveK = 0, internalOhm = 0.15 }: SituationPart) => {
  const profile = profileOf(part);
  const config = configOf({ printer: { baud }, supply: { internalOhm } });
  const wire = wireOf(profile, config.printer);
  const power = powerOf(profile, config.supply);
  return { plan: planSheet(sheet, { profile, power, wire, aboveK }), profile, wire, power };
};

/** The paper as a decoder that never saw our encoder reads it: rows and feeds in order, and what else was said. */
const decoded = (bytes: Uint8Array, widthDots: number) => {
  const rows: (Uint8Array | null)[] = [];
  const heats: number[][] = [];
  const orders: Orders = {
    rows: printed => {
      for (const row of printed) rows.push(row.slice());
    },
    feed: lines => {
      for (let i = 0; i < lines; i++) rows.push(null);
    },
    cut: () => {},
    initialise: () => {},
    heat: (...heat) => heats.push(heat),
    density: () => {},
    automaticStatus: () => {},
    sleep: () => {},
  };
  const decoder = createDecoder(widthDots, 8, orders);
  for (let at = 0; at < bytes.length; ) at = decoder.take(bytes, at, bytes.length);
  return { rows, heats, counts: decoder.counts, between: decoder.between };
};
const asPaper = (rows: (Uint8Array | null)[], strideBytes: number): Uint8Array => {
  const data = new Uint8Array(rows.length * strideBytes);
  rows.forEach((row, y) => {
    if (row) data.set(row, y * strideBytes);
  });
  return data;
};
const bytesOfSteps = (plan: Plan) => plan.steps.reduce((sum, step) => sum + step.bytes, 0);

/** Pictures with runs of white, margins and noise. */
const pictures = (widthDots: number) =>
  fc
    .array(fc.tuple(fc.constantFrom(0, 0, 0.02, 0.3, 0.9, 1), fc.integer({ min: 1, max: 40 })), { maxLength: 8 })
    .chain(runs =>
      fc.integer({ min: 1, max: 1e6 }).map(seed => {
        const inks = runs.flatMap(([ink, rows]) => Array<number>(rows).fill(ink));
        return noise(widthDots, inks.length, y => inks[y], seed);
      }),
    );

describe('laying out', () => {
  it('puts pages under each other, and refuses one that is too wide', () => {
    const narrow: Dots = { widthDots: 8, heightDots: 2, strideBytes: 1, data: Uint8Array.of(1, 2) };
    const wide: Dots = { widthDots: 16, heightDots: 1, strideBytes: 2, data: Uint8Array.of(3, 4) };
    expect(hex(stack([narrow, wide], 2).data)).toBe('01 00 02 00 03 04');
    expect(() => stack([wide], 1)).toThrow(/16 dots/);
  });

  it('feeds white before, behind and in long runs; narrows bands to what is black', () => {
    const dots: Dots = { widthDots: 32, heightDots: 40, strideBytes: 4, data: new Uint8Array(160) };
    for (const [y, x] of [
      [2, 0],
      [5, 1],
      [20, 3],
      [30, 0],
    ])
      dots.data[y * 4 + x] = 0xf0;
    expect(
      layOut(dots, 24, 8).map(band =>
        band.kind === 'feed' ? band.lines : [band.first, band.rows, band.widthBytes, [...band.black].join('')],
      ),
    ).toEqual([2, [2, 4, 2, '4004'], 14, [20, 1, 4, '4'], 9, [30, 1, 1, '4'], 9]);
  });

  it('lets stripes of a fixed height begin at a black row, the last one beyond the end', () => {
    const dots: Dots = { widthDots: 8, heightDots: 40, strideBytes: 1, data: new Uint8Array(40) };
    for (const y of [3, 30, 39]) dots.data[y] = 1;
    expect(
      layOutStripes(dots, 24).map(band => (band.kind === 'feed' ? band.lines : [band.first, band.rows, band.lines])),
    ).toEqual([3, [3, 24, 24], 3, [30, 10, 24]]);
    expect(layOutStripes(noise(64, 30, 0), 24)).toEqual([{ kind: 'feed', lines: 30 }]);
  });

  it('is all feed without a dot, and nothing without rows', () => {
    expect(layOut(noise(64, 30, 0), 24, 8)).toEqual([{ kind: 'feed', lines: 30 }]);
    expect(layOut(noise(64, 0, 0), 24, 8)).toEqual([]);
  });
});

describe('a plan', () => {
  it.each(['raster', 'column', 'graphics'] as const)('as %s decodes to the same rows', image => {
    fc.assert(
      fc.property(pictures(384), fc.constantFrom(9600, 115_200, 1_000_000), (dots, baud) => {
        const { plan } = planned({ pages: [dots], feedLines: 24 }, { profile: { commands: { image } }, baud });
        const { rows, counts, between } = decoded(plan.bytes, 384);
        expect(counts.unknown + counts.characters).toBe(0);
        expect(between).toBe(true);
        expect(rows.length).toBe(dots.heightDots + 24);
        expect(plan.lines).toBe(dots.heightDots + 24);
        expect(Buffer.compare(asPaper(rows.slice(0, dots.heightDots), 48), dots.data)).toBe(0);
        expect(bytesOfSteps(plan)).toBe(plan.bytes.length);
      }),
      { numRuns: 40 },
    );
  });

  it('begins with initialise and the heat command, and sends a band of 24 rows as the manual’s bytes', () => {
    const { plan } = planned({ pages: [noise(384, 24, 1)], feedLines: 112 }, { baud: 1_000_000, internalOhm: 0 });
    expect(hex(plan.bytes.subarray(0, 15))).toBe('1B 40 1B 37 07 50 02 1D 76 30 00 30 00 18 00');
    expect(plan.bytes.length).toBe(2 + 5 + 8 + 1152 + 3);
    expect(hex(plan.bytes.subarray(-3))).toBe('1B 4A 70');
  });

  it('feeds to the tear edge exactly, in as many commands as that needs', () => {
    const { plan } = planned({ pages: [], feedLines: 600 }, {});
    expect(plan.lines).toBe(600);
    expect(hex(plan.bytes)).toBe('1B 40 1B 4A FF 1B 4A FF 1B 4A 5A');
  });

  // Command manuals: motion units 1D 50 in 1/203 inch, automatic status 1D 61 with a bit for each kind (read).
  it('sets feed steps and automatic status where the printer has them', () => {
    const commands = { motionUnits: true, status: 'automatic', heat: 'none' } as const;
    const { plan } = planned({ pages: [], feedLines: 1 }, { profile: { commands } });
    expect(hex(plan.bytes)).toBe('1B 40 1D 50 CB CB 1D 61 0E 1B 4A 01');
  });

  it('takes hardly more bytes than plain raster, and far less for light pictures', () => {
    const share = (dots: Dots) =>
      planned({ pages: [dots], feedLines: 0 }, { baud: 1_000_000 }).plan.bytes.length /
      (2 + 5 + Math.ceil(dots.heightDots / 24) * 8 + dots.data.length);
    expect(share(noise(384, 560, 1))).toBeLessThan(1.004);
    expect(share(noise(384, 560, y => (y % 100 < 60 ? 0.3 : 0)))).toBeLessThan(0.65);
    const narrow = noise(384, 560, 0);
    for (let y = 0; y < 560; y++) narrow.data[y * 48 + 11] = 0x18;
    expect(share(narrow)).toBeLessThan(0.27);
  });

  it('takes the times that the paced schedule then takes', () => {
    const dots = noise(384, 200, y => (y < 100 ? 0.1 : 0.8));
    const { plan, wire } = planned({ pages: [dots], feedLines: 0 }, { baud: 57_600 });
    expect(pace(plan.steps, wire).starved).toBe(0);
  });

  it('asks about the printer between commands only, at half-second steps', () => {
    const { plan } = planned({ pages: [noise(384, 560, 0.4)], feedLines: 0 }, { baud: 115_200 });
    const asks = plan.steps.filter(step => step.asks);
    expect(asks.length).toBeGreaterThanOrEqual(3);
    plan.steps.forEach((step, k) => {
      if (step.asks) expect(plan.steps[k - 1].whole).toBe(true);
    });
    expect(decoded(plan.bytes, 384).counts.unknown).toBe(0);
  });

  it('asks nothing in a picture that could itself be taken for questions', () => {
    const dots = noise(384, 560, 0.4);
    dots.data.set([0x10, 0x04, 0x03], 5000);
    const { plan } = planned({ pages: [dots], feedLines: 0 }, {});
    expect(plan.steps.some(step => step.asks)).toBe(false);
  });

  it('asks nothing of a printer that doesn’t answer', () => {
    const commands = { status: 'none' } as const;
    const { plan } = planned({ pages: [noise(384, 560, 0.4)], feedLines: 0 }, { profile: { commands } });
    expect(plan.steps.some(step => step.asks)).toBe(false);
  });
});

describe('heat in a plan', () => {
  const black: Sheet = { pages: [noise(384, 560, 1)], feedLines: 0 };

  it('never heats more at once than profile and supply allow', () => {
    const { plan, power } = planned(black, { internalOhm: 0.6, baud: 1_000_000 });
    for (const [dotsAtOnce] of decoded(plan.bytes, 384).heats) expect(dotsAtOnce).toBe(24);
    const amps = Math.max(...plan.steps.map(step => step.amps));
    expect(7.4 - 0.6 * (amps + power.boardAmps + power.coilAmps)).toBeGreaterThanOrEqual(6.2);
  });

  it('is cut back as the head warms, by the model’s own temperature', () => {
    const { plan } = planned(black, { internalOhm: 0, baud: 1_000_000 });
    const times = decoded(plan.bytes, 384).heats.map(([, heatingUs]) => heatingUs);
    expect(times[0]).toBe(800);
    expect(times).toEqual([...times].sort((a, b) => b - a));
    // 12 K at 0.75 % a kelvin are 9 %.
    expect(plan.endK).toBeGreaterThan(10);
    expect(times[times.length - 1] / 800).toBeCloseTo(1 - 0.0075 * plan.endK, 1);
  });

  it('begins with less where the head is still warm', () => {
    const { plan } = planned(black, { internalOhm: 0, aboveK: 20, baud: 1_000_000 });
    expect(decoded(plan.bytes, 384).heats[0]).toEqual([64, 680, 20]);
    expect(plan.peakK).toBeGreaterThan(20);
  });

  it('slows the head where the wire is slower, and takes a break after light rows where that is known', () => {
    const light: Sheet = { pages: [noise(384, 240, 0.015)], feedLines: 0 };
    const stood = (density: 'none' | 'panel', densityFieldsSwapped = false) => {
      const profile = { commands: { density }, quirks: { densityFieldsSwapped } };
      const { plan, wire } = planned(light, { profile, baud: 115_200 });
      return pace(plan.steps, wire).starved;
    };
    expect(stood('none')).toBeGreaterThan(5);
    expect(stood('panel', true)).toBe(stood('none'));
    expect(stood('panel')).toBe(0);
  });

  it('says nothing of heat to a printer that can’t be told', () => {
    const { plan } = planned(black, { profile: { commands: { heat: 'none' } }, baud: 19_200 });
    expect(decoded(plan.bytes, 384).heats).toEqual([]);
  });
});

describe('paper without dots', () => {
  const moved = (profile: Part<Profile>, lines: number) => {
    const whole = profileOf(profile);
    const config = configOf();
    const power = powerOf(whole, config.supply);
    const planner = createPlanner({ profile: whole, power, wire: wireOf(whole, config.printer), aboveK: 0 });
    planner.feed(lines);
    const plan = planner.plan();
    return `${plan.lines}: ${hex(plan.bytes)}`;
  };

  // A feed is 255 units at most; backwards one command manual allows a sixth of an inch, 33 lines (read).
  it('goes forward and, where the printer can, back in steps of a sixth of an inch at most', () => {
    expect(moved({}, 300)).toBe('300: 1B 4A FF 1B 4A 2D');
    expect(moved({ commands: { reverse: true } }, -50)).toBe('-50: 1B 4B 21 1B 4B 11');
  });

  it('stays where it is where the printer can’t go back, or only pretends', () => {
    expect(moved({}, -50)).toBe('0: ');
    expect(moved({ commands: { reverse: true }, quirks: { ignoresReverse: true } }, -50)).toBe('0: ');
  });
});
