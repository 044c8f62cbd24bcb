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
