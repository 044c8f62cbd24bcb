import { createVirtualClock } from '../../../sim/clock.ts';
import { type Mechanism, mechanismOf } from '../../../sim/printer/mechanism.ts';
import { createVirtualPrinter, type Line, type VirtualPrinterSetup } from '../../../sim/printer/printer.ts';
import { chance } from '../../../sim/random.ts';
import { createTraces } from '../../../sim/traces.ts';
import { defaultProfile } from '../../../src/config/profile.ts';
import type { PrinterSaid } from '../../../src/parts/printer.ts';

type Changes = {
  mechanism?: Partial<Mechanism>;
  quirks?: Partial<Mechanism['quirks']>;
  knows?: Partial<Mechanism['knows']>;
  motor?: Partial<Mechanism['motor']>;
  head?: Partial<Mechanism['head']>;
  line?: Partial<Line>;
  setup?: Partial<VirtualPrinterSetup>;
};

/** A virtual printer on its own, opened, one second after the start; everything that its port says is kept. */
export const onBench = (changes: Changes = {}) => {
  const clock = createVirtualClock();
  const traces = createTraces(clock.nowUs);
  const usual = mechanismOf(defaultProfile());
  const mechanism: Mechanism = {
    ...usual,
    ...changes.mechanism,
    quirks: { ...usual.quirks, powerUpMs: 0, ...changes.quirks },
    knows: { ...usual.knows, ...changes.knows },
    motor: { ...usual.motor, ...changes.motor },
    head: { ...usual.head, ...changes.head },
  };
  const printer = createVirtualPrinter({
    clock,
    traces,
    mechanism,
    line: { baud: 115_200, flow: 'none', ...changes.line },
    chance: chance(1),
    ...changes.setup,
  });
  const said: (PrinterSaid & { atUs: number })[] = [];
  let inCall = false;
  const close = printer.port.open(one => {
    if (inCall) throw new Error('the port spoke inside a call');
    said.push({ ...one, atUs: clock.nowUs() });
  });
  clock.runUntil(1_000_000);
  const startUs = clock.nowUs();
  const write = (bytes: ArrayLike<number>) => {
    inCall = true;
    printer.port.write(Uint8Array.from(bytes));
    inCall = false;
  };
  return {
    clock,
    traces,
    mechanism,
    printer,
    said,
    startUs,
    close,
    write,
    /** Status and flow bytes heard so far. */
    heard: () => said.flatMap(one => (one.kind === 'bytes' ? [...one.bytes] : [])),
    runFor: (us: number) => clock.runUntil(clock.nowUs() + us),
    /** When each heated line began, µs from the start. */
    lineStarts: () =>
      printer.paper
        .pictures()
        .flatMap(({ from, to }) => Array.from({ length: to - from }, (_, i) => printer.paper.line(from + i)))
        .filter(line => line.dots !== null)
        .map(line => line.atUs - startUs),
  };
};

/** A raster command of whole rows. */
export const raster = (rows: readonly ArrayLike<number>[], strideBytes = 48): number[] => [
  0x1d,
  0x76,
  0x30,
  0,
  strideBytes & 255,
  strideBytes >> 8,
  rows.length & 255,
  rows.length >> 8,
  ...rows.flatMap(row => Array.from(row)),
];

export const blackRow = new Uint8Array(48).fill(0xff);
export const rowWith = (black: number): Uint8Array => {
  const row = new Uint8Array(48);
  for (let x = 0; x < black; x++) row[x >> 3] |= 0x80 >> (x & 7);
  return row;
};
