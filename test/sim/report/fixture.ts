import { createVirtualClock } from '../../../sim/clock.ts';
import { mechanismOf } from '../../../sim/printer/mechanism.ts';
import { createVirtualPrinter } from '../../../sim/printer/printer.ts';
import { chance } from '../../../sim/random.ts';
import type { LogLine } from '../../../sim/report/page.ts';
import { createTraces } from '../../../sim/traces.ts';
import { defaultProfile } from '../../../src/config/profile.ts';

/** Rows of an invented picture: rings whose tone becomes dots by a threshold that varies at random. */
const ringRows = (rows: number, seed: number): Uint8Array[] => {
  const luck = chance(seed);
  return Array.from({ length: rows }, (_, y) => {
    const row = new Uint8Array(48);
    for (let x = 0; x < 384; x++) {
      const tone = 0.5 + 0.5 * Math.cos(Math.hypot(x - 192, y - rows / 2) / (6 + seed * 3));
      if (luck.next() > tone) row[x >> 3] |= 0x80 >> (x & 7);
    }
    return row;
  });
};

/** Rows as raster commands of 24 rows each. */
const rasterBytes = (rows: readonly Uint8Array[]): Uint8Array => {
  const bytes: number[] = [0x1b, 0x40];
  rows.forEach((row, y) => {
    if (y % 24 === 0) bytes.push(0x1d, 0x76, 0x30, 0, row.length, 0, Math.min(24, rows.length - y), 0);
    bytes.push(...row);
  });
  return Uint8Array.from(bytes);
};

/** A small party played by hand on virtual parts: three pictures, a paper change, all traces. */
export const handmadeParty = () => {
  const clock = createVirtualClock();
  const traces = createTraces(clock.nowUs);
  const log: LogLine[] = [];
  const say = (event: string, fields: Record<string, unknown> = {}, level = 30) =>
    log.push({ level, mono: clock.nowUs(), time: clock.wallMs(), event, ...fields });
  const printer = createVirtualPrinter({
    clock,
    traces,
    mechanism: mechanismOf({ ...defaultProfile(), bufferBytes: 4096 }),
    line: { baud: 230_400, flow: 'xonxoff' },
    chance: chance(3),
  });
  printer.port.open(() => {});
  for (let i = 1; i < 900; i++) clock.after(i * 33_333, () => traces.record('frame', i));
  const blink = (everyUs: number, untilUs: number) => {
    for (let us = clock.nowUs(), on = 1; us < untilUs; us += everyUs, on ^= 1)
      clock.after(us - clock.nowUs(), () => traces.record('lamp', on));
  };
  const during = (name: 'button' | 'coil' | 'blades' | 'motor-in' | 'motor-out', fromUs: number, forUs: number) => {
    clock.after(fromUs, () => traces.record(name, 1));
    clock.after(fromUs + forUs, () => traces.record(name, 0));
  };
  traces.record('state', 'exposure.warming output.idle');
  traces.record('lamp-pattern', 'warming');
  clock.runUntil(1e6);
  traces.record('state', 'exposure.ready output.idle');
  traces.record('lamp-pattern', 'ready');
  say('ready', { sinceStartMs: 1000 });
  for (let shot = 1; shot <= 3; shot++) {
    say('press', { shot, settledUs: 8000 });
    during('button', 0, 120_000);
    during('coil', 9_000, 25_000);
    during('blades', 14_000, 40_000);
    traces.record('state', 'exposure.firing output.idle');
    clock.after(9_000, () => say('coil', { shot, pressToCoilUs: 9000, stroke: 'first' }));
    clock.runUntil(clock.nowUs() + 100_000);
    say('frame', { shot, sequence: Math.floor(clock.nowUs() / 33_333), pressToFrameUs: 66_000, digest: 'c0ffee' });
    traces.record('state', 'exposure.ready output.developing');
    traces.record('lamp-pattern', 'working');
    blink(120_000, clock.nowUs() + 3e6);
    for (let i = 0; i < 6; i++) during(i % 2 ? 'motor-out' : 'motor-in', i * 450_000, 400_000);
    clock.runUntil(clock.nowUs() + 600_000);
    say('developed', { shot, developUs: 600_000, inkPercent: 41 });
    traces.record('state', 'exposure.ready output.printing');
    say('print-begun', { shot, pressToDotUs: 700_000 });
    printer.port.write(rasterBytes(ringRows(400, shot)));
    printer.port.write(Uint8Array.of(0x1b, 0x4a, 128));
    if (shot === 2) {
      clock.runUntil(clock.nowUs() + 700_000);
      traces.record('fault', 'paper out');
      printer.control.paperOut(true);
      say('waiting', { why: 'no paper' }, 40);
      traces.record('state', 'exposure.ready output.waiting');
      clock.runUntil(clock.nowUs() + 2e6);
      traces.record('fault', 'new roll');
      printer.control.loadRoll(20_000);
      say('resumed', { waitedMs: 2000 });
    }
    clock.runUntil(clock.nowUs() + 3.2e6);
    say('printed', { shot, printUs: 2_100_000, paperLeftMm: 19_000, picturesLeft: 210 });
    traces.record('state', 'exposure.ready output.idle');
    traces.record('lamp-pattern', 'ready');
    printer.control.tear();
    clock.runUntil(clock.nowUs() + 900_000);
  }
  return { clock, traces, log, printer };
};
