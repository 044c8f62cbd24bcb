import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { createDesk, type Desk } from './desk.ts';

/** Edges of one closing or opening: microseconds after the first, the last one leaves the contact as it shall be. */
const swing = (desk: Desk, down: boolean, edgesUs: readonly number[]) => {
  const startUs = desk.clock.nowUs();
  desk.contact(down);
  edgesUs.forEach((atUs, i) => {
    desk.clock.runUntil(startUs + atUs);
    desk.contact(i % 2 === 0 ? !down : down);
  });
};
const presses = (desk: Desk) => desk.lines('press').length + desk.lines('refused').length;

describe('contact to press', () => {
  it('what the bounce study found is one press: mean 1,557 µs, longest 6,200 µs of sixteen switches', () => {
    // Ganssle, A Guide to Debouncing (figures as quoted elsewhere); at the default settling time.
    for (const bounceUs of [1557, 6200]) {
      const desk = createDesk();
      expect(desk.config.button.settleMs).toBe(8);
      const edges = [0.1, 0.25, 0.4, 0.55, 0.7, 0.8, 0.9, 1].map(part => Math.round(part * bounceUs));
      swing(desk, true, edges);
      desk.run(80);
      swing(desk, false, edges);
      desk.run(1000);
      expect(presses(desk)).toBe(1);
      expect(desk.lines('press')[0].settledUs).toBe(bounceUs + 8000);
      expect(desk.machine.states().button).toBe('open');
    }
  });

  it('any bounce shorter than the study’s longest is one press, however it chatters', () => {
    const bounce = fc
      .uniqueArray(fc.integer({ min: 1, max: 6200 }), { maxLength: 40 })
      .map(times => times.sort((a, b) => a - b).slice(0, times.length & ~1));
    fc.assert(
      fc.property(bounce, bounce, fc.integer({ min: 20, max: 900 }), (down, up, heldMs) => {
        const desk = createDesk();
        swing(desk, true, down);
        desk.run(heldMs);
        swing(desk, false, up);
        desk.run(1000);
        expect(presses(desk)).toBe(1);
        expect(desk.machine.states().button).toBe('open');
      }),
      { numRuns: 60 },
    );
  });

  it('a chatter that never is still, and a touch too short to count, are no press', () => {
    const desk = createDesk();
    for (let i = 0; i < 2000; i++) {
      desk.contact(i % 2 === 0);
      desk.run(3);
    }
    desk.run(500);
    desk.contact(true);
    desk.run(7);
    desk.contact(false);
    desk.run(500);
    expect(presses(desk)).toBe(0);
    expect(desk.machine.states().button).toBe('open');
  });

  it('every edge starts the settling over', () => {
    const desk = createDesk();
    desk.contact(true);
    desk.run(7.9);
    desk.contact(false);
    desk.run(0.05);
    desk.contact(true);
    desk.run(7.9);
    expect(presses(desk)).toBe(0);
    desk.run(0.2);
    expect(presses(desk)).toBe(1);
  });

  it('a loose contact while held is the same press and the same hold', () => {
    const desk = createDesk({ gestures: { hold: 'feed' } });
    desk.contact(true);
    for (let i = 0; i < 13; i++) {
      desk.run(90);
      desk.contact(false);
      desk.run(5);
      desk.contact(true);
    }
    desk.run(100);
    expect(presses(desk)).toBe(1);
    expect(desk.lines('gesture')).toEqual([{ gesture: 'hold', action: 'feed' }]);
    desk.run(5000);
    expect(desk.lines('gesture')).toHaveLength(1);
  });

  it('a welded contact is one press and one hold, and the camera comes back', () => {
    const desk = createDesk();
    desk.contact(true);
    desk.run(120_000);
    expect(desk.lines('press')).toHaveLength(1);
    expect(desk.machine.states()).toMatchObject({ button: 'held.pressed', service: 'idle', exposure: 'ready' });
    expect(desk.lines('printed')).toHaveLength(1);
  });
});

describe('double presses', () => {
  const withDouble = (gapMs: number, double: 'feed' | 'none') => {
    const desk = createDesk({ gestures: { double, hold: 'none' } });
    desk.press(40);
    desk.run(gapMs - 49);
    desk.press(40);
    desk.run(100);
    return desk;
  };

  it('a second press soon enough is the double and not another press', () => {
    const desk = withDouble(340, 'feed');
    expect(desk.lines('gesture')).toEqual([{ gesture: 'double', action: 'feed' }]);
    expect(presses(desk)).toBe(1);
  });

  it('one that comes too late is a press', () => {
    const desk = withDouble(360, 'feed');
    expect(desk.lines('gesture')).toEqual([]);
    expect(presses(desk)).toBe(2);
  });

  it('where doubles mean nothing, two presses are two presses', () => {
    const desk = withDouble(340, 'none');
    expect(presses(desk)).toBe(2);
  });

  it('three quick presses are a double and a press', () => {
    const desk = createDesk({ gestures: { double: 'feed' } });
    for (let i = 0; i < 3; i++) {
      desk.press(40);
      desk.run(100);
    }
    expect(desk.lines('gesture')).toHaveLength(1);
    expect(presses(desk)).toBe(2);
  });
});

describe('gestures mean what the configuration says', () => {
  it.each([
    ['feed', 'jogging'],
    ['load', 'loading'],
    ['new-roll', 'new-roll'],
  ] as const)('press = %s', (action, state) => {
    const desk = createDesk({ gestures: { press: action } });
    desk.press();
    expect(desk.lines('gesture')).toEqual([{ gesture: 'press', action }]);
    expect(desk.lines('service')[0]).toEqual({ state });
    expect(desk.lines('press')).toEqual([]);
  });

  it('press = close ends the program', () => {
    const desk = createDesk({ gestures: { press: 'close' } });
    desk.press();
    expect(desk.lines('closing')).toEqual([{ why: 'press' }]);
    expect(desk.machine.states().service).toBe('closed');
  });

  it('press = none does nothing at all', () => {
    const desk = createDesk({ gestures: { press: 'none' } });
    const before = desk.log.length;
    desk.press();
    expect(desk.log.length).toBe(before);
  });

  it('hold = picture takes a picture from the hold on', () => {
    const desk = createDesk({ gestures: { press: 'none', hold: 'picture' } });
    desk.press(1300);
    expect(desk.lines('press')).toEqual([{ shot: 1, settledUs: 0 }]);
  });

  it('double = reprint prints the last picture once more, without marks', () => {
    const desk = createDesk({ gestures: { press: 'none', hold: 'picture', double: 'reprint' } });
    desk.press(1300);
    desk.run(4000);
    expect(desk.seen.bodies).toEqual([1]);
    for (let i = 0; i < 2; i++) {
      desk.press(50);
      desk.run(50);
    }
    desk.run(4000);
    expect(desk.seen.bodies).toEqual([1, 1]);
    expect(desk.seen.tails).toEqual([1, 1]);
    expect(desk.seen.marks).toEqual([
      [1, 'closing'],
      [1, 'printed'],
    ]);
  });
});
