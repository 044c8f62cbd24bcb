import { describe, expect, it } from 'vitest';
import { createVirtualClock } from '../../sim/clock.ts';
import { watchPortStatus } from '../../src/linux/printer/port-status.ts';
import type { PrinterSaid } from '../../src/parts/printer.ts';

const setUp = (first: number | null) => {
  const clock = createVirtualClock();
  const said: PrinterSaid[] = [];
  const port = { status: first, asked: 0 };
  const stop = watchPortStatus({
    timing: clock,
    ask(answered) {
      port.asked++;
      clock.after(1000, () => answered(port.status));
    },
    heard: what => said.push(what),
  });
  const pass = (seconds: number) => clock.runUntil(clock.nowUs() + seconds * 1e6);
  return { clock, said, port, stop, pass };
};

// Universal Serial Bus Device Class Definition for Printing Devices 1.1, 4.2.2: bit 5 paper empty, bit 4 selected, bit 3 not error.
describe('the status of a USB printer’s port', () => {
  it('is said when it changes, once', () => {
    const { said, port, pass } = setUp(0x18);
    pass(5);
    expect(said).toEqual([]);
    port.status = 0x38;
    pass(5);
    port.status = 0x10;
    pass(5);
    port.status = 0x18;
    pass(5);
    expect(said).toEqual([
      { kind: 'port-status', paperOut: true, error: false },
      { kind: 'port-status', paperOut: false, error: true },
      { kind: 'port-status', paperOut: false, error: false },
    ]);
  });

  it('is no error with a printer that never says that it has none', () => {
    const { said, port, pass } = setUp(0x00);
    pass(5);
    port.status = 0x20;
    pass(2);
    port.status = 0x00;
    pass(2);
    expect(said).toEqual([
      { kind: 'port-status', paperOut: true, error: false },
      { kind: 'port-status', paperOut: false, error: false },
    ]);
  });

  it('is not asked for any more where nobody answers, nor once it is undone', () => {
    const mute = setUp(null);
    mute.pass(60);
    expect(mute.port.asked).toBe(3);
    const undone = setUp(0x18);
    undone.pass(3);
    const before = undone.port.asked;
    undone.stop();
    undone.pass(60);
    expect(undone.port.asked).toBe(before);
    expect(undone.clock.pending).toBe(0);
  });
});
