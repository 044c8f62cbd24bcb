import { describe, expect, it } from 'vitest';
import { createVirtualClock } from '../../sim/clock.ts';
import { createSerialPrinter } from '../../src/linux/printer/serial.ts';
import type { PrinterSaid } from '../../src/parts/printer.ts';
import { printerContract } from '../contracts/printer.ts';
import { createPortModel } from './port-model.ts';

const setUp = (flow: 'none' | 'xonxoff' | 'rtscts' = 'none', baud = 115_200) => {
  const clock = createVirtualClock();
  const port = createPortModel(clock, baud);
  const printer = createSerialPrinter({
    device: '/dev/serial0',
    baud,
    flow,
    timing: clock,
    createPort: port.createPort,
  });
  const said: PrinterSaid[] = [];
  const pass = (ms: number) => clock.runUntil(clock.nowUs() + ms * 1000);
  const kinds = () => said.map(({ kind }) => kind);
  return { clock, port, printer, said, pass, kinds };
};

for (const flow of ['none', 'xonxoff', 'rtscts'] as const)
  printerContract(`serial, flow control ${flow}, over a model of the port`, () => {
    const { clock, port, printer, pass } = setUp(flow);
    return {
      ...port,
      printer,
      pass: async ms => pass(ms),
      nowUs: clock.nowUs,
      graceUs: () => 0,
      slow: true,
      done() {},
    };
  });

describe('the serial printer', () => {
  // IXOFF would put the bytes 11 and 13 among those of a picture (receipt-printer manuals on flow control).
  it.each([
    { flow: 'none', rtscts: false, xon: false },
    { flow: 'xonxoff', rtscts: false, xon: true },
    { flow: 'rtscts', rtscts: true, xon: false },
  ] as const)('opens for flow control $flow, and never sends XON or XOFF', ({ flow, rtscts, xon }) => {
    const { printer, port, pass } = setUp(flow, 230_400);
    printer.open(() => {});
    pass(100);
    expect(port.model.opened).toHaveLength(1);
    expect(port.model.opened[0]).toMatchObject({ baudRate: 230_400, rtscts, xon, xoff: false });
  });

  it('says held while the printer lowers its line, and drained only when all has left', () => {
    const { printer, port, said, pass, kinds } = setUp('rtscts');
    printer.open(what => said.push(what));
    pass(100);
    port.model.cts = false;
    printer.write(new Uint8Array(100));
    pass(500);
    expect(said.slice(1)).toEqual([{ kind: 'held', held: true }]);
    port.model.cts = true;
    pass(500);
    expect(kinds()).toEqual(['found', 'held', 'held', 'drained']);
  });

  it('says drained once for writes that follow one another, when the last has left', () => {
    const { clock, printer, port, said, pass, kinds } = setUp();
    printer.open(what => said.push(what));
    pass(100);
    for (let i = 0; i < 10; i++) {
      printer.write(new Uint8Array(48));
      pass(2);
    }
    pass(200);
    expect(port.received()).toHaveLength(480);
    expect(kinds()).toEqual(['found', 'drained']);
    expect(clock.pending).toBe(0);
  });

  it('says in words what is the matter with the port', () => {
    const { printer, port, said, pass } = setUp();
    port.model.plugged = false;
    printer.open(what => said.push(what));
    pass(3000);
    expect(said).toEqual([
      { kind: 'lost', why: "printer: /dev/serial0 isn't there (is it plugged in, and named so?)" },
    ]);
  });
});
