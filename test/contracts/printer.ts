import { expect } from 'vitest';
import type { Printer, PrinterSaid } from '../../src/parts/printer.ts';
import { contract, type Make, type Passing } from './make.ts';

export interface PrinterBench extends Passing {
  printer: Printer;
  /** Every byte that came out at the other end. */
  received(): Uint8Array;
  answer(bytes: Uint8Array): void;
  unplug(): void;
  replug(): void;
  /** Writes take time on this wire, so that something is left to discard. */
  slow: boolean;
}

const until = async (bench: PrinterBench, there: () => boolean, ms = 20_000): Promise<void> => {
  for (let passed = 0; !there() && passed < ms; passed += 20) await bench.pass(20);
  expect(there()).toBe(true);
};
const openIt = (bench: PrinterBench) => {
  const said: PrinterSaid[] = [];
  const stop = bench.printer.open(what => said.push(what));
  const count = (kind: PrinterSaid['kind']) => said.filter(what => what.kind === kind).length;
  const kinds = () => said.map(({ kind }) => kind).filter(kind => kind === 'found' || kind === 'lost');
  return {
    said,
    stop,
    count,
    kinds,
    there: (kind: PrinterSaid['kind'], times = 1) => until(bench, () => count(kind) >= times),
  };
};
/** Every byte value: those of flow control too, which must pass. */
const allBytes = Uint8Array.from({ length: 1024 }, (_, i) => (i * 7) & 255);

export const printerContract = (name: string, make: Make<PrinterBench>, lacks?: Record<string, string>): void => {
  contract('printer', name, make, cases, lacks);
};

const cases: Record<string, (bench: PrinterBench) => Promise<void>> = {
  'is found, once, and never inside the call': async bench => {
    const { said, there, kinds } = openIt(bench);
    expect(said).toEqual([]);
    await there('found');
    await bench.pass(200);
    expect(kinds()).toEqual(['found']);
  },
  'brings every byte over, in order, whatever its value': async bench => {
    const { there } = openIt(bench);
    await there('found');
    const before = bench.received().length;
    for (let at = 0; at < allBytes.length; at += 100) bench.printer.write(allBytes.subarray(at, at + 100));
    await until(bench, () => bench.received().length - before >= allBytes.length);
    expect([...bench.received().subarray(before)]).toEqual([...allBytes]);
  },
  'says drained when all has left, never inside the call': async bench => {
    const { there, count } = openIt(bench);
    await there('found');
    const before = bench.received().length;
    bench.printer.write(allBytes);
    bench.printer.write(allBytes.subarray(0, 50));
    expect(count('drained')).toBe(0);
    await there('drained');
    await until(bench, () => bench.received().length - before >= allBytes.length + 50);
  },
  'doesn’t keep the caller’s bytes: they may be used again at once': async bench => {
    const { there } = openIt(bench);
    await there('found');
    const before = bench.received().length;
    const bytes = new Uint8Array(500).fill(1);
    bench.printer.write(bytes);
    bytes.fill(2);
    await until(bench, () => bench.received().length - before >= 500);
    expect(
      bench
        .received()
        .subarray(before)
        .every(byte => byte === 1),
    ).toBe(true);
  },
  'hears what the printer says': async bench => {
    const { said, there } = openIt(bench);
    await there('found');
    bench.answer(Uint8Array.of(0x12, 0x00, 0x7e));
    const heard = () => said.flatMap(what => (what.kind === 'bytes' ? [...what.bytes] : []));
    await until(bench, () => heard().length >= 3);
    expect(heard()).toEqual([0x12, 0x00, 0x7e]);
  },
  'discards what hasn’t left yet, and goes on afterwards': async bench => {
    const { there } = openIt(bench);
    await there('found');
    const before = bench.received().length;
    for (let i = 0; i < 40; i++) bench.printer.write(new Uint8Array(1000).fill(3));
    bench.printer.discard();
    bench.printer.write(Uint8Array.of(4));
    await until(bench, () => bench.received().includes(4));
    const came = bench.received().subarray(before);
    expect(came.at(-1)).toBe(4);
    if (bench.slow) expect(came.length).toBeLessThan(40_000);
  },
  'says lost at once when it is unplugged, and found when it is back': async bench => {
    const { there, kinds } = openIt(bench);
    await there('found');
    bench.unplug();
    await until(bench, () => kinds().length >= 2, bench.graceUs() > 0 ? 10_000 : 2000);
    bench.printer.write(allBytes);
    await bench.pass(700);
    bench.replug();
    await there('found', 2);
    expect(kinds()).toEqual(['found', 'lost', 'found']);
    const before = bench.received().length;
    bench.printer.write(Uint8Array.of(5, 6));
    await until(bench, () => bench.received().length - before >= 2);
    expect([...bench.received().subarray(before)]).toEqual([5, 6]);
  },
  'says lost when it isn’t there at the start, once, and found when it comes': async bench => {
    bench.unplug();
    const { there, kinds } = openIt(bench);
    await there('lost');
    await bench.pass(1700);
    bench.replug();
    await there('found');
    expect(kinds()).toEqual(['lost', 'found']);
  },
  'is silent once it is closed': async bench => {
    const { said, stop, there } = openIt(bench);
    await there('found');
    stop();
    stop();
    const before = said.length;
    bench.printer.write(allBytes);
    await bench.pass(500);
    expect(said.length).toBe(before);
  },
};
