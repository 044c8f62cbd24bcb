import { describe, expect, it } from 'vitest';
import { blackRow, onBench, raster, rowWith } from './bench.ts';

const byteUs = (baud: number) => 1e7 / baud;

describe('the wire', () => {
  it('carries 10 bits a byte: 10,368 bytes are 0.9 s at 115,200 baud, 0.104 s at 1,000,000 (calculated)', () => {
    for (const [baud, us] of [
      [115_200, 900_000],
      [1_000_000, 103_680],
    ]) {
      const { write, runFor, said, startUs } = onBench({ line: { baud } });
      write(new Uint8Array(10_368));
      runFor(2e6);
      expect(said.find(one => one.kind === 'drained')?.atUs).toBe(startUs + us);
    }
  });

  it('says drained when the last byte has left, once, however the bytes were written', () => {
    const { write, runFor, said, startUs } = onBench({ line: { baud: 9600 } });
    for (let i = 0; i < 10; i++) {
      write(new Uint8Array(7));
      runFor(100);
    }
    runFor(1e6);
    const drained = said.filter(one => one.kind === 'drained');
    expect(drained.map(one => one.atUs - startUs)).toEqual([Math.ceil(70 * byteUs(9600))]);
  });

  it('keeps time to the microsecond at any speed, a month into the party', () => {
    for (const baud of [1200, 9600, 19_200, 57_600, 115_200, 230_400, 921_600, 3_000_000]) {
      const { write, clock, said, printer } = onBench({ line: { baud } });
      const monthUs = 30 * 86_400e6 + 1;
      clock.runUntil(monthUs);
      for (let i = 0; i < 1000; i++) {
        write(raster([rowWith(i % 300)]));
        clock.runUntil(clock.nowUs() + (i % 7));
      }
      clock.runUntil(monthUs + 600e6);
      const drained = said.filter(one => one.kind === 'drained').map(one => one.atUs - monthUs);
      expect(drained).toEqual([Math.ceil(56_000 * byteUs(baud) - 1e-3)]);
      expect(printer.stats().bytesReceived).toBe(56_000);
    }
  });

  it('drops what was written and not sent, but for the byte on the wire and what lies in the chip', () => {
    const { write, runFor, printer, said } = onBench({ line: { baud: 9600 } });
    write(new Uint8Array(500));
    runFor(10.5 * byteUs(9600));
    printer.port.discard();
    runFor(1e6);
    expect(printer.stats().bytesReceived).toBe(10 + 1 + 16);
    expect(said.filter(one => one.kind === 'drained')).toHaveLength(1);
    write(new Uint8Array(3));
    runFor(1e6);
    expect(printer.stats().bytesReceived).toBe(30);
  });

  it('loses what arrives while the port is lost, and is found again', () => {
    const { write, runFor, printer, said } = onBench();
    printer.control.unplug();
    runFor(1000);
    write([0x1b, 0x4a, 40]);
    printer.control.replug();
    runFor(1e6);
    write([0x1b, 0x4a, 8]);
    runFor(1e6);
    expect(said.map(one => one.kind).filter(kind => kind !== 'drained')).toEqual(['found', 'lost', 'found']);
    expect(printer.stats().bytesReceived).toBe(3);
    expect(printer.paper.at).toBe(printer.paper.tearDots + 8);
  });

  it('opens again after it was closed, and says lost where nothing is plugged in', () => {
    const { close, runFor, printer, said } = onBench();
    close();
    close();
    printer.control.unplug();
    const again: string[] = [];
    printer.port.open(one => again.push(one.kind));
    runFor(1e6);
    printer.control.replug();
    runFor(1e6);
    expect(again).toEqual(['lost', 'found']);
    expect(said.map(one => one.kind)).toEqual(['found']);
  });
});

describe('lines and their time', () => {
  it('takes 4.92 ms for a black line with 64 dots at once, 800 and 20 µs (calculated from the manual’s formula)', () => {
    const { write, runFor, lineStarts, mechanism } = onBench({ mechanism: { bufferBytes: 4096 } });
    expect(mechanism.motor.mmPerS).toBe(50);
    write([0x1b, 0x37, 7, 80, 2, ...raster(Array(20).fill(blackRow))]);
    runFor(3e6);
    const starts = lineStarts();
    // The first row is printed when it is there; then the wire, 48 bytes in 4.17 ms, is faster than the head.
    expect(starts[0]).toBe(Math.ceil((5 + 8 + 48) * byteUs(115_200)));
    expect(starts.slice(1).map((us, i) => us - starts[i])).toEqual(Array(19).fill(4920));
  });

  it('takes 6.4 ms with 96 dots at once, 1,200 and 400 µs: arguments 11, 120, 40', () => {
    const { write, runFor, lineStarts } = onBench({ mechanism: { bufferBytes: 4096 } });
    write([0x1b, 0x37, 11, 120, 40, ...raster(Array(8).fill(blackRow))]);
    runFor(3e6);
    const starts = lineStarts();
    expect(starts[7] - starts[0]).toBe(7 * 6400);
  });

  it('counts black dots, and is never faster than its motor', () => {
    const rows = [0, 1, 64, 65, 256, 257, 384].map(rowWith);
    const { write, runFor, lineStarts } = onBench({ line: { baud: 1_000_000 }, mechanism: { bufferBytes: 4096 } });
    write(raster([...rows, rowWith(0)]));
    runFor(1e6);
    const starts = lineStarts();
    expect(starts.slice(1).map((us, i) => us - starts[i])).toEqual([2500, 2500, 2500, 2500, 3280, 4100, 4920]);
  });

  // Calculated: 255 units of 0.125 mm.
  it('feeds at the motor’s speed: 255 units are 31.9 mm in 0.6375 s at 50 mm/s', () => {
    const { write, runFor, traces, printer, startUs } = onBench();
    write([0x1b, 0x4a, 255]);
    runFor(2e6);
    const end = traces.of('paper').at(-1)!;
    expect(end.value).toBe(255);
    expect(end.atUs - startUs).toBe(Math.ceil(3 * byteUs(115_200)) + 637_500);
    expect(printer.rollDots()).toBe(20_000 * 8 - 255);
  });

  // A sixth of an inch, 33 dot lines, is the cap in one command manual (read).
  it('feeds back only where it can, and no further than a sixth of an inch', () => {
    const able = onBench({ knows: { reverse: true } });
    able.write([0x1b, 0x4a, 100, 0x1b, 0x4b, 20, 0x1b, 0x6a, 200]);
    able.runFor(2e6);
    expect(able.traces.of('paper').at(-1)?.value).toBe(100 - 20 - 33);
    for (const unable of [onBench(), onBench({ knows: { reverse: true }, quirks: { ignoresReverse: true } })]) {
      unable.write([0x1b, 0x4a, 100, 0x1b, 0x4b, 20]);
      unable.runFor(2e6);
      expect(unable.traces.of('paper').at(-1)?.value).toBe(100);
    }
  });

  it('takes longer where it is slower than its data, and where the motor has to start', () => {
    const { write, runFor, lineStarts } = onBench({
      mechanism: { bufferBytes: 4096 },
      motor: { slowness: 1.05, startUs: 3000 },
    });
    write(raster(Array(4).fill(blackRow)));
    runFor(1e6);
    const [a, b, c] = lineStarts();
    expect(b - a).toBe(Math.round((4920 + 3000) * 1.05));
    expect(c - b).toBe(Math.round(4920 * 1.05));
  });

  it('obeys density and break, in either order of the fields', () => {
    const lineUs = (argument: number, densityFieldsSwapped: boolean) => {
      const { write, runFor, lineStarts } = onBench({
        mechanism: { bufferBytes: 4096 },
        knows: { density: true },
        quirks: { densityFieldsSwapped },
        line: { baud: 1_000_000 },
      });
      write([0x12, 0x23, argument, ...raster(Array(3).fill(blackRow))]);
      runFor(1e6);
      const [a, b] = lineStarts();
      return b - a;
    };
    // n = 0b010_01010: 100 % and 500 µs.
    expect(lineUs(0x4a, false)).toBe(4920 + 500);
    expect(lineUs(0x1f, false)).toBe(Math.round(6 * (800 * 2.05 + 20)));
    expect(lineUs(0x4a, true)).toBe(Math.round(6 * (800 * 0.9 + 20)) + 500);
  });
});

describe('the receive buffer', () => {
  it('loses exactly what finds no room, and prints the rest as it then reads', () => {
    const { write, runFor, printer } = onBench({ line: { baud: 1_000_000 } });
    // One black line busies it for 4.92 ms: 492 bytes arrive, 256 fit.
    write(raster([blackRow]));
    runFor(560);
    write(new Uint8Array(400));
    runFor(1e6);
    expect(printer.stats()).toMatchObject({ bytesReceived: 456, bytesLost: 144, peakStored: 256, linesHeated: 1 });
  });

  it('turns image bytes into characters once some of a header are lost', () => {
    const { write, runFor, printer } = onBench({ line: { baud: 1_000_000 } });
    for (let i = 0; i < 20; i++) write(raster(Array(24).fill(new Uint8Array(48).fill(0x55))));
    runFor(5e6);
    const { bytesLost, unknown, characters } = printer.stats();
    expect(bytesLost).toBeGreaterThan(1000);
    expect(unknown + characters).toBeGreaterThan(0);
  });

  // One to three disturbed lines: a mechanism’s technical reference (read).
  it('stops the paper when rows come late, counts it and disturbs one to three lines', () => {
    const { write, runFor, printer } = onBench({ mechanism: { bufferBytes: 4096 }, line: { baud: 1_000_000 } });
    const rows = Array.from({ length: 10 }, () => rowWith(100));
    write(raster(Array(30).fill(rowWith(100))).slice(0, 8 + 48 * 10 + 20));
    runFor(200_000);
    expect(printer.stats()).toMatchObject({ linesHeated: 10, starvedLines: 0 });
    write(new Uint8Array(28));
    for (let i = 0; i < 19; i++) write(rows[0]);
    runFor(1e6);
    const [picture] = printer.paper.pictures();
    expect(printer.stats()).toMatchObject({ linesHeated: 30, starvedLines: 1, bytesLost: 0 });
    expect(picture.disturbedLines).toBeGreaterThanOrEqual(1);
    expect(picture.disturbedLines).toBeLessThanOrEqual(3);
    expect(printer.paper.line(picture.from + 10).disturbed).toBe(true);
    expect(printer.paper.line(picture.from + 9).disturbed).toBe(false);
  });

  it('does not call it late when white lies between, or when the row comes within its patience', () => {
    const { write, runFor, printer } = onBench({ mechanism: { bufferBytes: 4096 }, line: { baud: 1_000_000 } });
    write(raster([rowWith(50)]));
    runFor(50_000);
    write([0x1b, 0x4a, 4, ...raster([rowWith(50)])]);
    runFor(50_000);
    write(raster([rowWith(0)]));
    runFor(50_000);
    write(raster([rowWith(50)]));
    runFor(50_000);
    expect(printer.stats()).toMatchObject({ linesHeated: 4, starvedLines: 0 });
    write(raster([rowWith(50)]));
    runFor(50_000);
    expect(printer.stats().starvedLines).toBe(1);
  });
});

describe('flow control', () => {
  const many = Array(200).fill(blackRow) as Uint8Array[];

  it.each([256, 1024, 4096])(
    'XOFF and XON keep a %i byte buffer from overflowing, and are not heard by the reader',
    bufferBytes => {
      const { write, runFor, printer, heard } = onBench({
        line: { baud: 230_400, flow: 'xonxoff' },
        mechanism: { bufferBytes },
      });
      write(raster(many));
      runFor(3e6);
      expect(printer.stats()).toMatchObject({ linesHeated: 200, bytesLost: 0, starvedLines: 0 });
      expect(heard()).toEqual([]);
    },
  );

  it('asks to stop at the manual’s 4,046 bytes of 4,096 and to go on below 3,995', () => {
    const { write, runFor, heard, said, printer, clock } = onBench({
      line: { baud: 1_000_000, flow: 'none', printerFlow: 'xonxoff' },
      mechanism: { bufferBytes: 4096 },
    });
    printer.control.lid(true);
    write(new Uint8Array(4046));
    runFor(100_000);
    expect(heard()).toEqual([]);
    write([0]);
    runFor(100_000);
    // This end obeys nothing here, so it hears the bytes as they are.
    expect(heard()).toEqual([0x13]);
    const [xoff] = said.filter(one => one.kind === 'bytes');
    expect(clock.nowUs() - xoff.atUs).toBe(100_000 - 10 - 10);
    printer.control.lid(false);
    runFor(100_000);
    expect(heard()).toEqual([0x13, 0x11]);
    expect(printer.stats()).toMatchObject({ peakStored: 4047, bytesLost: 0 });
  });

  it('loses bytes when this end ignores XOFF, or the printer sends none', () => {
    for (const line of [
      { flow: 'none', printerFlow: 'xonxoff' },
      { flow: 'xonxoff', printerFlow: 'none' },
    ] as const) {
      const { write, runFor, printer } = onBench({ line: { baud: 230_400, ...line } });
      write(raster(many));
      runFor(3e6);
      expect(printer.stats().bytesLost).toBeGreaterThan(100);
    }
  });

  it('says held with the hardware line, and no byte leaves meanwhile', () => {
    const { write, runFor, printer, said } = onBench({ line: { baud: 230_400, flow: 'rtscts' } });
    printer.control.lid(true);
    write(new Uint8Array(500));
    runFor(1e6);
    expect(said.filter(one => one.kind === 'held').map(one => one.held)).toEqual([true]);
    // 256 bytes less a quarter, and the byte that makes it full; the next one was on the wire by then.
    expect(printer.stats()).toMatchObject({ bytesReceived: 193 + 1, bytesLost: 0 });
    printer.control.lid(false);
    runFor(1e6);
    expect(said.filter(one => one.kind === 'held').map(one => one.held)).toEqual([true, false]);
    expect(printer.stats()).toMatchObject({ bytesReceived: 500, bytesLost: 0 });
  });

  it('stays busy while off line where the printer is like that', () => {
    const { runFor, printer, said } = onBench({ line: { flow: 'rtscts' }, quirks: { busyOffLine: true } });
    printer.control.paperOut(true);
    runFor(1000);
    printer.control.paperOut(false);
    runFor(1000);
    expect(said.filter(one => one.kind === 'held').map(one => one.held)).toEqual([true, false]);
  });

  it('never loses a byte over USB, whose host has to wait', () => {
    const { write, runFor, printer, said } = onBench({ line: { kind: 'usb' } });
    write(raster(many));
    runFor(50_000);
    expect(said.some(one => one.kind === 'drained')).toBe(false);
    runFor(3e6);
    expect(printer.stats()).toMatchObject({ linesHeated: 200, bytesLost: 0, starvedLines: 0, peakStored: 256 });
    expect(said.filter(one => one.kind === 'drained')).toHaveLength(1);
  });
});

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
