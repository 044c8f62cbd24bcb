import { createVirtualClock, type VirtualClock } from '../../sim/clock.ts';
import { type Mechanism, mechanismOf } from '../../sim/printer/mechanism.ts';
import { createVirtualPrinter, type VirtualPrinter, type VirtualPrinterSetup } from '../../sim/printer/printer.ts';
import { chance } from '../../sim/random.ts';
import { createVirtualSupply } from '../../sim/supply.ts';
import { createTraces, type Traces } from '../../sim/traces.ts';
import { type Profile, profileSchema } from '../../src/config/profile.ts';
import { type Config, configSchema } from '../../src/config/schema.ts';
import type { Dots } from '../../src/parts/darkroom.ts';
import type { EngineSaid, JobSaid, PrinterCondition } from '../../src/parts/engine.ts';
import { createPrintEngine, type TriedEngine } from '../../src/print/engine.ts';
import type { Imprint } from '../../src/print/imprint.ts';

export type Part<T> = { [K in keyof T]?: Part<T[K]> };

export const profileOf = (part: Part<Profile> = {}): Profile => profileSchema.parse(part);
export const configOf = (part: Part<Config> = {}): Config => configSchema.parse(part);

/** Random dots of a share of ink, by the simulator's seeded chance. */
export const noise = (widthDots: number, heightDots: number, ink: number | ((y: number) => number), seed = 7): Dots => {
  const strideBytes = Math.ceil(widthDots / 8);
  const data = new Uint8Array(strideBytes * heightDots);
  const draw = chance(seed);
  for (let y = 0; y < heightDots; y++) {
    const share = typeof ink === 'number' ? ink : ink(y);
    for (let x = 0; x < widthDots; x++) if (draw.hit(share)) data[y * strideBytes + (x >> 3)] |= 0x80 >> (x & 7);
  }
  return { widthDots, heightDots, strideBytes, data };
};

export interface Desk {
  clock: VirtualClock;
  traces: Traces;
  printer: VirtualPrinter;
  engine: TriedEngine;
  profile: Profile;
  said: EngineSaid[];
  condition(): PrinterCondition | null;
  /** Ends the engine in the midst of whatever it does; the printer goes on. */
  kill(): void;
  /** Every byte that reached the printer. */
  wire(): Uint8Array;
  /** Runs one job to its end; at most ten minutes. */
  finish(start: (heard: (said: JobSaid) => void) => void): { end: JobSaid; said: JobSaid[]; tookUs: number };
}

export interface DeskSetup {
  profile?: Part<Profile>;
  config?: Part<Config>;
  imprint?: Imprint | null;
  line?: Partial<VirtualPrinterSetup['line']>;
  mechanism?: (m: Mechanism) => Mechanism;
  supply?: boolean;
  /** Not opened yet. */
  closed?: boolean;
}

/** An engine on a virtual printer that is as its profile says, unless told otherwise. */
export const createDesk = (setup: DeskSetup = {}): Desk => {
  const clock = createVirtualClock();
  const traces = createTraces(clock.nowUs);
  const profile = profileOf(setup.profile);
  const config = configOf(setup.config);
  const bytes: number[] = [];
  const supply = createVirtualSupply(clock, traces, {
    openVolts: config.supply.nominalVolts,
    internalOhm: config.supply.internalOhm,
    floorVolts: config.supply.floorVolts,
    measured: true,
  });
  supply.draw('board', config.supply.boardWatts / config.supply.nominalVolts);
  const mechanism = mechanismOf(profile);
  const printer = createVirtualPrinter({
    clock,
    traces,
    mechanism: setup.mechanism?.(mechanism) ?? mechanism,
    line: {
      kind: config.printer.link === 'usb' ? 'usb' : 'serial',
      baud: config.printer.baud,
      flow: config.printer.flow,
      ...setup.line,
    },
    chance: chance(1),
    ...(setup.supply === false ? {} : { supply }),
    tap: arrived => bytes.push(...arrived),
  });
  const engine = createPrintEngine({ clock, printer: printer.port, profile, config, imprint: setup.imprint ?? null });
  const said: EngineSaid[] = [];
  const close = setup.closed ? () => {} : engine.open(news => said.push(news));
  const desk: Desk = {
    clock,
    traces,
    printer,
    engine,
    profile,
    said,
    condition: () => said.findLast(news => news.kind === 'condition')?.condition ?? null,
    kill: close,
    wire: () => Uint8Array.from(bytes),
    finish(start) {
      const news: JobSaid[] = [];
      const beganUs = clock.nowUs();
      let end: JobSaid | null = null;
      start(one => {
        news.push(one);
        if (one.kind !== 'progress') end = one;
      });
      while (!end && clock.step(beganUs + 600e6));
      if (!end) throw new Error('the job never ended');
      return { end, said: news, tookUs: clock.nowUs() - beganUs };
    },
  };
  return desk;
};

export const hex = (bytes: Uint8Array | readonly number[]): string =>
  Array.from(bytes, byte => byte.toString(16).toUpperCase().padStart(2, '0')).join(' ');
