import { describe, expect, it } from 'vitest';
import { blackRow, onBench, raster } from './bench.ts';

const byteUs = (baud: number) => 1e7 / baud;

describe('status now', () => {
  const ask = (n: number) => [0x10, 0x04, n];

  // Bits of each answer as command manuals give them under "transmit real-time status" (read).
  it('answers each question with its byte: idle 12, near end 1E, end 72 (calculated)', () => {
    const { write, runFor, heard, printer } = onBench();
    const answers = () => {
      const before = heard().length;
      for (const n of [1, 2, 3, 4]) write(ask(n));
      runFor(50_000);
      return heard().slice(before);
    };
    expect(answers()).toEqual([0x12, 0x12, 0x12, 0x12]);
    printer.control.nearEnd(true);
    expect(answers()).toEqual([0x12, 0x12, 0x12, 0x1e]);
    printer.control.nearEnd(false);
    printer.control.paperOut(true);
    expect(answers()).toEqual([0x1a, 0x32, 0x12, 0x72]);
    printer.control.paperOut(false);
    printer.control.lid(true);
    expect(answers()).toEqual([0x1a, 0x16, 0x12, 0x12]);
    printer.control.lid(false);
    printer.control.hot(true);
    expect(answers()).toEqual([0x1a, 0x52, 0x52, 0x12]);
    printer.control.hot(false);
    printer.control.jamCutter(true);
    expect(answers()).toEqual([0x1a, 0x52, 0x1a, 0x12]);
    printer.control.jamCutter(false);
    printer.control.break();
    expect(answers()).toEqual([0x1a, 0x52, 0x32, 0x12]);
    printer.control.power(false);
    printer.control.power(true);
    expect(answers()).toEqual([0x12, 0x12, 0x12, 0x12]);
    printer.control.feedButton(true);
    expect(answers()).toEqual([0x1a, 0x1a, 0x12, 0x12]);
  });

  it('answers at once, ahead of all that still lies in the buffer', () => {
    const { write, runFor, said, startUs, mechanism } = onBench({ mechanism: { bufferBytes: 4096 } });
    write([...raster(Array(40).fill(blackRow)), ...ask(1)]);
    runFor(1e6);
    const [answer] = said.filter(one => one.kind === 'bytes');
    const arrived = (8 + 40 * 48 + 3) * byteUs(115_200);
    expect(answer.atUs - startUs).toBe(Math.ceil(Math.ceil(arrived) + mechanism.quirks.answerUs + byteUs(115_200)));
  });

  it('answers even when its buffer is full, or it is off line', () => {
    const { write, runFor, heard, printer } = onBench();
    printer.control.lid(true);
    write(new Uint8Array(300));
    write(ask(2));
    runFor(1e6);
    expect(heard()).toEqual([0x16]);
    expect(printer.stats().bytesLost).toBe(300 + 3 - 256);
  });

  it('may answer to image data, as clones do, or not', () => {
    const row = new Uint8Array(48);
    row.set([0x10, 0x04, 0x02], 20);
    for (const [statusInImages, expected] of [
      [true, [0x12, 0x12]],
      [false, [0x12]],
    ] as const) {
      const { write, runFor, heard, printer } = onBench({ quirks: { statusInImages } });
      write([...raster([row, row.subarray(0, 0), row].filter(r => r.length > 0).slice(0, 1)), ...ask(1)]);
      runFor(1e6);
      expect(heard()).toEqual(expected);
      expect(printer.stats()).toMatchObject({ linesHeated: 1, characters: 0 });
    }
  });

  it('answers a question that comes in pieces, but not one inside another command', () => {
    const { write, runFor, heard } = onBench({ quirks: { statusInImages: false } });
    for (const byte of ask(1)) {
      write([byte]);
      runFor(20_000);
    }
    expect(heard()).toEqual([0x12]);
    write([0x1b, 0x33, ...ask(1)]);
    runFor(20_000);
    expect(heard()).toEqual([0x12]);
  });

  it('says nothing when it is silent, has no power, or knows no status', () => {
    const silent = onBench();
    silent.printer.control.silent(true);
    const dark = onBench();
    dark.printer.control.power(false);
    const plain = onBench({ knows: { status: false } });
    for (const { write, runFor, heard } of [silent, dark, plain]) {
      write(ask(1));
      runFor(1e6);
      expect(heard()).toEqual([]);
    }
  });
});

describe('automatic status', () => {
  const bench = (mask = 0xff) => {
    const one = onBench({ knows: { automaticStatus: true } });
    one.write([0x1d, 0x61, mask]);
    one.runFor(20_000);
    return one;
  };

  // Bits as command manuals give them under "automatic status back" (read).
  it('comes at once when asked for, and at each change: lid, end, near end, heat', () => {
    const { heard, runFor, printer } = bench();
    expect(heard()).toEqual([0x10, 0, 0, 0]);
    const next = () => {
      runFor(20_000);
      return heard().slice(-4);
    };
    printer.control.lid(true);
    expect(next()).toEqual([0x38, 0, 0, 0]);
    printer.control.lid(false);
    expect(next()).toEqual([0x10, 0, 0, 0]);
    printer.control.paperOut(true);
    expect(next()).toEqual([0x18, 0, 0x0c, 0]);
    printer.control.paperOut(false);
    printer.control.nearEnd(true);
    expect(next()).toEqual([0x10, 0, 0x03, 0]);
    printer.control.nearEnd(false);
    printer.control.hot(true);
    expect(next()).toEqual([0x18, 0x40, 0, 0]);
    const before = heard().length;
    printer.control.hot(true);
    runFor(20_000);
    expect(heard()).toHaveLength(before);
  });

  it('is off until asked for, can be stopped, and is forgotten without power', () => {
    const { heard, runFor, printer, write } = bench();
    write([0x1d, 0x61, 0]);
    runFor(20_000);
    printer.control.lid(true);
    printer.control.lid(false);
    runFor(20_000);
    expect(heard()).toHaveLength(4);
    write([0x1d, 0x61, 0xff]);
    runFor(20_000);
    printer.control.power(false);
    printer.control.power(true);
    printer.control.lid(true);
    runFor(20_000);
    expect(heard()).toHaveLength(8);
  });

  it('keeps its four bytes together but for XOFF, which overtakes', () => {
    const { heard, runFor, printer, write } = onBench({
      knows: { automaticStatus: true },
      line: { baud: 9600, flow: 'none', printerFlow: 'xonxoff' },
      quirks: { busyOffLine: true },
    });
    write([0x1d, 0x61, 0xff]);
    runFor(100_000);
    printer.control.lid(true);
    runFor(100_000);
    expect(heard()).toEqual([0x10, 0, 0, 0, 0x13, 0x38, 0, 0, 0]);
  });
});
