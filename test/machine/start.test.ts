import { describe, expect, it } from 'vitest';
import type { States } from '../../src/machine/states.ts';
import { createDesk } from './desk.ts';

describe('starting', () => {
  it('is ready when webcam streams and the journal is read, in either order, and says so once', () => {
    for (const albumFirst of [true, false]) {
      const desk = createDesk({ byHand: ['start'] });
      const steps = [
        () => desk.say.album({ kind: 'opened', pending: [], nextShot: 1, paperUsedMm: 0 }),
        () => desk.say.webcam({ kind: 'ready' }),
      ];
      if (!albumFirst) steps.reverse();
      steps[0]();
      expect(desk.machine.states().exposure).toBe('warming');
      desk.run(1500);
      steps[1]();
      expect(desk.lines('ready')).toEqual([{ sinceStartMs: 1500 }]);
    }
  });

  it('tells every move of a region, and only moves', () => {
    const told: States[] = [];
    const desk = createDesk({ machine: { onTransition: states => told.push(states) } });
    desk.press();
    desk.run(4000);
    expect(told.length).toBeGreaterThan(10);
    told.slice(1).forEach((states, i) => {
      expect(states).not.toEqual(told[i]);
    });
    expect(desk.machine.states()).toEqual(told.at(-1));
  });

  it.each([
    ['button', { exposure: 'ready' }],
    ['supply', { exposure: 'ready' }],
    ['engine', { exposure: 'ready' }],
    ['album', { exposure: 'ready' }],
    ['webcam', { exposure: 'blind' }],
  ] as const)('without %s it goes on as far as it can', (part, states) => {
    const desk = createDesk({ throws: [part] });
    expect(desk.lines('part-fault')).toEqual([{ part, why: `no ${part}` }]);
    if (part !== 'webcam') desk.say.webcam({ kind: 'ready' });
    expect(desk.machine.states()).toMatchObject(states);
  });

  it('a lamp and a motor that fail say so once and stop nothing', () => {
    const desk = createDesk({ throws: ['lamp', 'motor'] });
    desk.press();
    desk.run(10_000);
    expect(desk.seen.bodies).toEqual([1]);
    expect(desk.lines('part-fault').map(({ part }) => part)).toEqual(['lamp', 'motor']);
  });

  it('names a frame by its digest', () => {
    const desk = createDesk({ machine: { digest: ({ data }) => `of ${data.length} bytes` } });
    desk.press();
    desk.run(500);
    expect(desk.lines('frame')[0].digest).toBe('of 4 bytes');
  });
});

describe('stopping', () => {
  it.each([
    ['with the coil on', 12],
    ['while a frame is awaited', 50],
    ['while the album writes', 125],
    ['while it develops', 250],
    ['while it prints', 1000],
    ['while it presents', 2000],
  ])('%s, everything is let go', (_, afterMs) => {
    const desk = createDesk();
    desk.contact(true);
    desk.run(afterMs);
    desk.machine.stop();
    expect([...desk.running]).toEqual([]);
    expect(desk.coilOn()).toBe(false);
    expect(desk.seen.motor.at(-1) ?? 'off').toBe('off');
    expect(desk.seen.lamp.at(-1)).toBe('closed');
    const [lines, drives] = [desk.log.length, desk.seen.motor.length];
    desk.contact(false);
    desk.run(20_000);
    expect(desk.log.length).toBe(lines);
    expect(desk.seen.motor.length).toBe(drives);
    expect(desk.seen.coil.length).toBeLessThan(3);
  });

  it('who no longer wants to hear of the close doesn’t', () => {
    const desk = createDesk();
    let heard = 0;
    const undo = desk.machine.closed(() => heard++);
    undo();
    desk.machine.send({ type: 'service.close', why: 'test' });
    expect(heard).toBe(0);
  });
});

describe('a fault of the program itself', () => {
  it('lets go of everything and is told', () => {
    const told: unknown[] = [];
    const desk = createDesk({
      machine: {
        onBroken: error => told.push(error),
        log(event) {
          if (event === 'frame') throw new Error('a fault of ours');
        },
      },
    });
    desk.press();
    desk.run(1000);
    expect(String(told[0])).toContain('a fault of ours');
    expect(told).toHaveLength(1);
    expect([...desk.running]).toEqual([]);
    expect(desk.coilOn()).toBe(false);
    expect(desk.seen.lamp.at(-1)).toBe('closed');
  });
});

describe('a fault in what hears of the states', () => {
  it('lets go of everything and is told', () => {
    const told: unknown[] = [];
    const desk = createDesk({
      machine: {
        onBroken: error => told.push(error),
        onTransition({ exposure }) {
          if (exposure === 'firing') throw new Error('a fault of ours');
        },
      },
    });
    desk.press();
    desk.run(1000);
    expect(told.map(String)).toEqual(['Error: a fault of ours']);
    expect([...desk.running]).toEqual([]);
    expect(desk.coilOn()).toBe(false);
  });
});

describe('the lens', () => {
  it('is racked to and fro while the camera works, never while it looks', () => {
    const desk = createDesk();
    desk.press();
    desk.run(5000);
    const { motor } = desk.seen;
    expect(motor.slice(0, 5)).toEqual(['in', 'off', 'out', 'off', 'in']);
    expect(motor.at(-1)).toBe('off');
    for (let i = 1; i < motor.length; i++)
      if (motor[i] !== 'off' && motor[i - 1] !== 'off') expect(motor[i]).toBe(motor[i - 1]);
  });

  it('stays where it is, where that is wished', () => {
    const desk = createDesk({
      config(config) {
        config.motor.rack = false;
      },
    });
    desk.press();
    desk.run(5000);
    expect(desk.seen.motor).toEqual([]);
  });
});
