import { describe, expect, it } from 'vitest';
import { blackRow, onBench, raster, rowWith } from './bench.ts';

describe('what happens to a printer', () => {
  it('stops at the end of the roll to the line, and goes on with what it holds under the next', () => {
    const { write, runFor, printer } = onBench({
      mechanism: { bufferBytes: 4096, nearEndMm: 3 },
      setup: { rollMm: 5 },
      line: { baud: 230_400 },
    });
    const rows = Array.from({ length: 60 }, (_, i) => rowWith(i + 1));
    write(raster(rows));
    runFor(1e6);
    expect(printer.stats().linesHeated).toBe(40);
    expect(printer.rollDots()).toBe(0);
    printer.control.loadRoll(100);
    runFor(1e6);
    expect(printer.stats()).toMatchObject({ linesHeated: 60, bytesLost: 0, starvedLines: 0 });
    expect(printer.rollDots()).toBe(800 - 20);
    const pictures = printer.paper.pictures();
    expect(pictures.map(({ from, to }) => to - from)).toEqual([40, 20]);
    const { data } = printer.paper.dots(pictures[1].from, pictures[1].to);
    expect(Buffer.from(data.subarray(0, 48)).equals(rows[40])).toBe(true);
  });

  // 0.5 s after power-up: command manuals of the panel class (read).
  it('loses buffer and command in hand with its power, and is deaf while it boots', () => {
    const { write, runFor, printer, clock } = onBench({ quirks: { powerUpMs: 500 }, mechanism: { bufferBytes: 4096 } });
    clock.runUntil(2e6);
    write(raster(Array(40).fill(blackRow)));
    runFor(100_000);
    printer.control.power(false);
    runFor(500_000);
    const { linesHeated } = printer.stats();
    expect(linesHeated).toBeLessThan(25);
    printer.control.power(true);
    write([0x1b, 0x4a, 10]);
    runFor(499_000);
    write([0x1b, 0x4a, 20]);
    runFor(1e6);
    // The second command arrives whole after the rest of 0.5 s but for its first bytes.
    expect(printer.stats().linesHeated).toBe(linesHeated);
    write([0x1b, 0x4a, 30]);
    runFor(1e6);
    expect(printer.stats().bytesLost).toBeGreaterThanOrEqual(3);
    expect(printer.paper.at - printer.paper.tearDots - linesHeated).toBeGreaterThanOrEqual(29);
  });

  // FF, 50 ms, then 1B 38 00 00: command manuals of the panel class, "sleep" (read).
  it('sleeps by itself and wakes with FF, 50 ms before it hears again', () => {
    const { write, runFor, printer, heard } = onBench({ quirks: { sleepsAfterS: 2 }, knows: { sleep: true } });
    runFor(3e6);
    write([0x10, 0x04, 1]);
    runFor(1e6);
    expect(heard()).toEqual([]);
    runFor(3e6);
    write([0xff]);
    runFor(51_000);
    write([0x10, 0x04, 1, 0x1b, 0x38, 0, 0]);
    runFor(100_000);
    expect(heard()).toEqual([0x12]);
    expect(printer.stats().bytesLost).toBe(3);
    runFor(10e6);
    write([0x10, 0x04, 1]);
    runFor(100_000);
    expect(heard()).toEqual([0x12, 0x12]);
  });

  // Stopping hot and going on cool: mechanisms’ technical references (read); the temperatures are from memory.
  it('stops when its head is hot and goes on when it has cooled', () => {
    const { write, runFor, printer, heard } = onBench({
      mechanism: { bufferBytes: 4096 },
      head: { timeConstantS: 5, kelvinPerWatt: 12 },
      line: { baud: 230_400, flow: 'xonxoff' },
    });
    const all = raster(Array(2000).fill(blackRow));
    write(all);
    runFor(8e6);
    const { linesHeated } = printer.stats();
    expect(linesHeated).toBeLessThan(2000);
    expect(printer.headC()).toBeGreaterThan(60);
    write([0x10, 0x04, 3]);
    runFor(60e6);
    expect(printer.stats()).toMatchObject({ linesHeated: 2000, bytesLost: 0 });
    expect(heard()).toEqual([0x12]);
  });

  it('is torn off by a guest when the print is out and the printer rests, and not before', () => {
    const { write, runFor, printer } = onBench({
      mechanism: { bufferBytes: 4096 },
      line: { baud: 230_400 },
      setup: { tearsAfterMs: 1000 },
    });
    const { paper } = printer;
    runFor(3e6);
    expect(paper.marks).toEqual([]);
    write(raster(Array(10).fill(blackRow)));
    runFor(3e6);
    // Still between head and edge.
    expect(paper.marks).toEqual([]);
    write([0x1b, 0x4a, paper.tearDots]);
    runFor(1.1e6);
    expect(paper.marks).toEqual([]);
    runFor(1e6);
    expect(paper.marks.map(({ kind, line }) => ({ kind, line }))).toEqual([
      { kind: 'tear', line: paper.at - paper.tearDots },
    ]);
    expect(paper.lastHeated).toBe(paper.at - paper.tearDots - 1);
    runFor(10e6);
    write([0x1b, 0x4a, 20]);
    runFor(3e6);
    expect(paper.marks).toHaveLength(1);
  });

  it('cuts where it has a cutter, at the edge, after the feed that the command asks for', () => {
    const able = onBench({ knows: { cutter: true } });
    able.write([0x1d, 0x56, 66, 24]);
    able.runFor(1e6);
    const { paper } = able.printer;
    expect(paper.marks.map(({ kind, line }) => ({ kind, line }))).toEqual([{ kind: 'cut', line: 24 }]);
    const unable = onBench();
    unable.write([0x1d, 0x56, 66, 24]);
    unable.runFor(1e6);
    expect(unable.printer.paper.marks).toEqual([]);
    expect(unable.printer.paper.at).toBe(unable.printer.paper.tearDots + 24);
  });

  it('feeds while its own button is held, off line', () => {
    const { runFor, printer, traces } = onBench();
    printer.control.feedButton(true);
    runFor(205_000);
    printer.control.feedButton(false);
    runFor(1e6);
    expect(traces.of('paper').at(-1)?.value).toBe(80);
  });

  it('prints on what it holds when the host is gone', () => {
    const { write, runFor, printer } = onBench({ mechanism: { bufferBytes: 4096 } });
    write(raster(Array(20).fill(blackRow)));
    runFor(90_000);
    const { bytesReceived } = printer.stats();
    printer.powerOff();
    runFor(1e6);
    expect(printer.stats().bytesReceived).toBe(bytesReceived);
    expect(printer.stats().linesHeated).toBe(20);
  });

  it('draws its current from the supply, and prints paler where that sags', () => {
    const draws: number[] = [];
    const supply = {
      volts: () => 6.4 - 0.3 * (draws.at(-1) ?? 0),
      draw: (_: string, amps: number) => void draws.push(amps),
      internalOhm: 0.3,
    };
    const { write, runFor, printer } = onBench({ mechanism: { bufferBytes: 4096 }, setup: { supply } });
    write(raster(Array(3).fill(blackRow)));
    runFor(1e6);
    // 64 dots of 176 Ω beside each other are 2.75 Ω; with 0.3 Ω before them 6.4 V drive 2.10 A.
    expect(Math.max(...draws)).toBeCloseTo(6.4 / (176 / 64 + 0.3), 3);
    expect(draws.at(-1)).toBe(0);
    const [{ from }] = printer.paper.pictures();
    expect(printer.paper.line(from).drive).toBeLessThan(0.7);
  });
});
