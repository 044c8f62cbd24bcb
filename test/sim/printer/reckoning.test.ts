import { describe, expect, it } from 'vitest';
import { createDecoder, idleOrders } from '../../../sim/printer/decoder.ts';
import { blackDots, heatingTimeUs, startingHeat } from '../../../sim/printer/head.ts';
import type { Mechanism } from '../../../sim/printer/mechanism.ts';
import { type Chance, chance } from '../../../sim/random.ts';
import { onBench, raster } from './bench.ts';

/** Bytes and the time at which each of them has arrived, µs. */
type Timed = { byte: number; atUs: number }[];

const arrivals = (writes: readonly { atUs: number; bytes: readonly number[] }[], byteUs: number): Timed => {
  let freeUs = 0;
  return writes.flatMap(({ atUs, bytes }) => {
    let startUs = Math.max(freeUs, atUs);
    return bytes.map(byte => {
      startUs += byteUs;
      freeUs = startUs;
      return { byte, atUs: startUs };
    });
  });
};

/**
 * The same printer told the slow way: byte by byte in a plain loop, no event but the next byte or the end of a step.
 * It knows rows and feeds only, and no flow control.
 */
const tickedPrinter = (timed: Timed, mechanism: Mechanism, endUs: number) => {
  const motorLineUs = 1e6 / (mechanism.dotsPerMm * mechanism.motor.mmPerS);
  const work: (Uint8Array | number)[] = [];
  const buffer: number[] = [];
  const lineStarts: number[] = [];
  let heat = startingHeat(mechanism);
  let busyUntilUs: number | null = null;
  let lost = 0;
  let peak = 0;
  let travelled = 0;
  const decoder = createDecoder(mechanism.widthDots, mechanism.dotsPerMm, {
    ...idleOrders,
    rows: (rows, times) => {
      for (const row of rows) for (let i = 0; i < times; i++) work.push(row.slice());
    },
    feed: lines => void (lines > 0 && work.push(lines)),
    initialise: () => {
      heat = startingHeat(mechanism);
    },
    heat: (dotsAtOnce, heatingUs, intervalUs) => {
      heat = { ...heat, dotsAtOnce, heatingUs, intervalUs };
    },
  });
  const begin = (nowUs: number) => {
    while (busyUntilUs === null) {
      const next = work[0];
      if (next instanceof Uint8Array) {
        work.shift();
        lineStarts.push(nowUs);
        busyUntilUs = nowUs + Math.max(1, Math.round(Math.max(heatingTimeUs(blackDots(next), heat), motorLineUs)));
        travelled++;
      } else if (next !== undefined) {
        const piece = Math.min(8, next);
        work[0] = next - piece;
        if (work[0] === 0) work.shift();
        busyUntilUs = nowUs + Math.max(1, Math.round(piece * motorLineUs));
        travelled += piece;
      } else {
        const byte = buffer.shift();
        if (byte === undefined) return;
        decoder.take(Uint8Array.of(byte), 0, 1);
      }
    }
  };
  let next = 0;
  for (;;) {
    const arrivesUs = next < timed.length ? Math.ceil(timed[next].atUs - 1e-6) : Number.POSITIVE_INFINITY;
    const endsUs = busyUntilUs ?? Number.POSITIVE_INFINITY;
    if (Math.min(arrivesUs, endsUs) > endUs) break;
    if (arrivesUs <= endsUs) {
      if (buffer.length < mechanism.bufferBytes || busyUntilUs === null) buffer.push(timed[next].byte);
      else lost++;
      next++;
      begin(arrivesUs);
      peak = Math.max(peak, buffer.length);
    } else {
      busyUntilUs = null;
      begin(endsUs);
    }
  }
  return { lost, peak, lineStarts, travelled, characters: decoder.counts.characters };
};

const randomWrites = (luck: Chance) => {
  let atUs = 1_000_000;
  return Array.from({ length: luck.whole(1, 25) }, () => {
    const rows = Array.from({ length: luck.whole(1, 30) }, () => {
      const dark = luck.next();
      return Array.from({ length: 48 }, () => (luck.hit(dark) ? luck.whole(0, 255) : 0));
    });
    const bytes: number[] = luck.pick([
      () => raster(rows),
      () => raster(rows).slice(0, luck.whole(1, 400)),
      () => [0x1b, 0x4a, luck.whole(0, 60)],
      () => [0x1b, 0x37, luck.whole(3, 15), luck.whole(20, 150), luck.whole(0, 40)],
      () => Array.from({ length: luck.whole(1, 60) }, () => luck.whole(0, 255)),
    ])();
    const write = { atUs, bytes };
    atUs += luck.pick([0, luck.whole(0, 3000), luck.whole(0, 80_000)]);
    return write;
  });
};

describe('bytes reckoned instead of ticked', () => {
  const runs = Number(process.env.FUZZ_RUNS ?? 150);

  it(`gives the same losses, lines and times as a printer told byte by byte, over ${runs} random streams`, () => {
    const luck = chance(77);
    let lossy = 0;
    for (let run = 0; run < runs; run++) {
      // Speeds whose bytes take whole microseconds: both reckonings then agree to the microsecond.
      const baud = luck.pick([10_000, 31_250, 125_000, 250_000, 1_000_000]);
      const bufferBytes = luck.pick([16, 64, 256, 1000, 4096]);
      const writes = randomWrites(luck);
      const bench = onBench({
        line: { baud },
        mechanism: { bufferBytes },
        knows: { status: false },
        setup: { rollMm: 1e6 },
      });
      for (const { atUs, bytes } of writes) {
        bench.clock.runUntil(atUs);
        bench.write(bytes);
        // Looking at it must not change it.
        if (luck.hit(0.3)) bench.printer.stats();
      }
      bench.clock.runUntil(60e6);
      const ticked = tickedPrinter(arrivals(writes, 1e7 / baud), bench.mechanism, 60e6);
      const { bytesLost, peakStored, characters } = bench.printer.stats();
      const told = `run ${run}: ${baud} baud, ${bufferBytes} bytes`;
      const starts = bench.lineStarts().map(us => us + bench.startUs);
      expect({ told, lost: bytesLost, characters, starts }).toEqual({
        told,
        lost: ticked.lost,
        characters: ticked.characters,
        starts: ticked.lineStarts,
      });
      expect(peakStored, told).toBeLessThanOrEqual(Math.max(ticked.peak, 1));
      expect(bench.printer.paper.at - bench.printer.paper.tearDots, told).toBe(ticked.travelled);
      if (bytesLost > 0) lossy++;
    }
    expect(lossy).toBeGreaterThan(runs / 10);
    expect(lossy).toBeLessThan(runs);
  });
});
