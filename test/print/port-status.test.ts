import { describe, expect, it } from 'vitest';
import { createVirtualClock } from '../../sim/clock.ts';
import type { EngineSaid } from '../../src/parts/engine.ts';
import type { PrinterSaid } from '../../src/parts/printer.ts';
import { createPrintEngine } from '../../src/print/engine.ts';
import { configOf, profileOf } from './desk.ts';

const setUp = (status: 'none' | 'polled') => {
  const clock = createVirtualClock();
  const said: EngineSaid[] = [];
  let say: (what: PrinterSaid) => void = () => {};
  const engine = createPrintEngine({
    clock,
    printer: {
      open(heard) {
        say = heard;
        return () => {};
      },
      write: () => void clock.after(0, () => say({ kind: 'drained' })),
      discard: () => {},
    },
    profile: profileOf({ commands: { status } }),
    config: configOf({ printer: { link: 'usb' } }),
    imprint: null,
  });
  engine.open(what => said.push(what));
  const tell = (what: PrinterSaid) => {
    say(what);
    clock.runUntil(clock.nowUs() + 5e6);
    const last = said.filter(one => one.kind === 'condition').at(-1);
    return last?.kind === 'condition' ? last.condition : null;
  };
  return { tell };
};

describe('the status of the printer’s port', () => {
  it('is the condition of a printer that says nothing itself, until the port is another', () => {
    const { tell } = setUp('none');
    expect(tell({ kind: 'found' })).toMatchObject({ lost: false, paperOut: false, offLine: false });
    expect(tell({ kind: 'port-status', paperOut: true, error: false })).toMatchObject({ paperOut: true });
    expect(tell({ kind: 'port-status', paperOut: false, error: true })).toMatchObject({
      paperOut: false,
      offLine: true,
    });
    expect(tell({ kind: 'port-status', paperOut: false, error: false })).toMatchObject({ offLine: false });
    tell({ kind: 'port-status', paperOut: true, error: false });
    tell({ kind: 'lost', why: 'unplugged' });
    expect(tell({ kind: 'found' })).toMatchObject({ lost: false, paperOut: false });
  });

  it('is nothing beside what a printer answers itself', () => {
    const { tell } = setUp('polled');
    tell({ kind: 'found' });
    expect(tell({ kind: 'port-status', paperOut: true, error: false })?.paperOut ?? false).toBe(false);
  });
});
