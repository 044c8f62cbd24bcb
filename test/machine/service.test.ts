import { describe, expect, it } from 'vitest';
import { createDesk, type DeskOptions } from './desk.ts';

const loading = (options: DeskOptions = {}) => {
  const desk = createDesk({ gestures: { press: 'none' }, ...options });
  desk.press(1300);
  desk.run(100);
  expect(desk.machine.states().service).toBe('loading.open');
  return desk;
};

describe('moving paper by hand', () => {
  it('forward and back, in dot lines, on the account', () => {
    const desk = createDesk({ reverse: true });
    desk.machine.send({ type: 'service.jog', mm: 7.5 });
    desk.run(1000);
    desk.machine.send({ type: 'service.jog', mm: -3 });
    desk.run(1000);
    expect(desk.seen.fed).toEqual([60, -24]);
    expect(desk.seen.paperMm).toBe(4.5);
    expect(desk.lines('service')).toEqual([{ state: 'jogging' }, { state: 'jogging' }]);
    expect(desk.machine.states().service).toBe('idle');
  });

  it('waits until the picture is out, and holds up the next one meanwhile', () => {
    const desk = createDesk({ byHand: ['job'] });
    desk.press();
    desk.run(600);
    desk.press();
    desk.run(600);
    desk.machine.send({ type: 'service.jog', mm: 10 });
    expect(desk.machine.states()).toMatchObject({ service: 'jogging.pending', output: 'printing' });
    desk.press();
    expect(desk.lines('refused')).toEqual([{ why: 'busy' }]);
    desk.pending.job.shift()?.answer({ kind: 'done', paperLines: 600 });
    desk.run(100);
    desk.pending.job.shift()?.answer({ kind: 'done', paperLines: 120 });
    desk.run(1000);
    expect(desk.pending.job.map(({ kind }) => kind)).toEqual(['feed']);
    desk.pending.job.shift()?.answer({ kind: 'stopped', paperLines: 5 });
    desk.run(500);
    expect(desk.pending.job.map(({ kind }) => kind)).toEqual(['body']);
  });

  it('a feed that can’t begin is said', () => {
    const desk = createDesk({ throws: ['feed'] });
    desk.machine.send({ type: 'service.jog', mm: 7.5 });
    expect(desk.lines('part-fault')).toEqual([{ part: 'printer', why: 'no feed' }]);
    expect(desk.machine.states().service).toBe('idle');
  });
});

describe('loading a roll', () => {
  it('a hold begins it, presses move paper on, a hold ends it and counts the roll', () => {
    const desk = loading();
    expect(desk.seen.lamp.at(-1)).toBe('loading');
    desk.say.condition({ lidOpen: true });
    desk.say.condition({ paperOut: true });
    desk.run(2000);
    desk.say.condition({ paperOut: false });
    expect(desk.machine.states().service).toBe('loading.open');
    desk.say.condition({ lidOpen: false });
    expect(desk.machine.states().service).toBe('loading.intake');
    desk.run(500);
    desk.press();
    desk.run(500);
    desk.press();
    desk.run(500);
    expect(desk.seen.fed).toEqual([200, 40, 40]);
    desk.press(1300);
    desk.run(500);
    expect(desk.lines('service').map(({ state }) => state)).toEqual(['loading', 'new-roll']);
    expect(desk.seen.newRolls).toBe(1);
    expect(desk.machine.states().service).toBe('idle');
  });

  it('where nobody touched the roll, none is counted', () => {
    const desk = loading();
    desk.press(1300);
    expect(desk.lines('service').map(({ state }) => state)).toEqual(['loading', 'same-roll']);
    expect(desk.seen.newRolls).toBe(0);
  });

  it('a printer that never answers can’t tell: then a roll is counted', () => {
    const desk = loading({ status: 'none' });
    desk.press(1300);
    expect(desk.seen.newRolls).toBe(1);
  });

  it('a double press takes paper back, where the printer can', () => {
    const desk = loading({ reverse: true });
    for (let i = 0; i < 2; i++) {
      desk.press(50);
      desk.run(50);
    }
    desk.run(1500);
    expect(desk.seen.fed).toEqual([40, -80]);
    expect(desk.machine.states().service).toBe('loading.open');
  });

  it('a double that comes when the first press has done its feed goes back at once', () => {
    const desk = loading({ reverse: true, byHand: ['job'] });
    desk.press(50);
    desk.pending.job.shift()?.answer({ kind: 'done', paperLines: 40 });
    desk.run(50);
    desk.press(50);
    expect(desk.pending.job.map(({ lines }) => lines)).toEqual([-80]);
  });

  it('where it can’t, a second press is a press: refused while paper moves, or a step on', () => {
    const desk = loading();
    desk.press(50);
    desk.run(100);
    desk.press(50);
    desk.run(1500);
    expect(desk.seen.fed).toEqual([40]);
    desk.press(50);
    desk.run(1500);
    expect(desk.seen.fed).toEqual([40, 40]);
    expect(desk.lines('refused')).toEqual([{ why: 'busy' }]);
  });

  it('waits for the picture that is printing; the one after it waits for the roll', () => {
    const desk = createDesk();
    desk.press();
    desk.run(500);
    desk.press();
    desk.run(500);
    desk.machine.send({ type: 'service.load' });
    expect(desk.machine.states().service).toBe('loading.pending');
    desk.run(10_000);
    expect(desk.seen.bodies).toEqual([1]);
    expect(desk.machine.states()).toMatchObject({ service: 'loading.open', output: 'idle' });
    desk.machine.send({ type: 'service.loaded' });
    desk.run(5000);
    expect(desk.seen.bodies).toEqual([1, 2]);
    expect(desk.seen.newRolls).toBe(1);
  });

  it('left alone with paper in it, it ends by itself', () => {
    const desk = loading();
    desk.run(15_000);
    desk.say.condition({ lidOpen: true });
    desk.run(300_000);
    expect(desk.machine.states().service).toBe('loading.open');
    desk.say.condition({ lidOpen: false });
    desk.run(19_000);
    expect(desk.machine.states().service).toBe('loading.open');
    desk.run(2000);
    expect(desk.machine.states().service).toBe('idle');
    expect(desk.lines('service').map(({ state }) => state)).toEqual(['loading', 'loading-left']);
    expect(desk.seen.newRolls).toBe(0);
  });

  it.each([
    ['forward', 5],
    ['back', -5],
  ])('a feed that can’t begin (%s) leaves it open', (_, mm) => {
    const desk = loading({ throws: ['feed'] });
    desk.machine.send({ type: 'service.jog', mm });
    expect(desk.machine.states().service).toBe('loading.open');
    expect(desk.lines('part-fault')).toEqual([{ part: 'printer', why: 'no feed' }]);
  });
});

describe('printing once more', () => {
  it('is refused where there is nothing, or where it is on its way already', () => {
    const desk = createDesk();
    desk.machine.send({ type: 'service.reprint' });
    expect(desk.lines('refused')).toEqual([{ why: 'nothing-to-reprint' }]);
    desk.press();
    desk.run(4000);
    desk.machine.send({ type: 'service.reprint' });
    desk.machine.send({ type: 'service.reprint' });
    desk.run(6000);
    expect(desk.lines('refused')).toHaveLength(2);
    expect(desk.seen.bodies).toEqual([1, 1]);
  });

  it('comes from memory, where the album could not keep it', () => {
    const desk = createDesk({ throws: ['keep', 'recall'] });
    desk.press();
    desk.run(4000);
    desk.machine.send({ type: 'service.reprint' });
    desk.run(4000);
    expect(desk.seen.bodies).toEqual([1, 1]);
  });
});

describe('closing down', () => {
  const ends = (options: DeskOptions = {}) => {
    const desk = createDesk(options);
    let closed = 0;
    desk.machine.closed(() => closed++);
    return { desk, closed: () => closed };
  };
  const letGo = (desk: ReturnType<typeof createDesk>) => {
    expect([...desk.running]).toEqual([]);
    expect(desk.coilOn()).toBe(false);
    expect(desk.seen.lamp.at(-1)).toBe('closed');
    expect(desk.seen.motor.at(-1)).toBe('off');
    expect(desk.machine.states().service).toBe('closed');
  };

  it('at rest, at once', () => {
    const { desk, closed } = ends();
    desk.press();
    desk.run(4000);
    desk.machine.send({ type: 'service.close', why: 'SIGTERM' });
    expect(closed()).toBe(1);
    expect(desk.lines('closing')).toEqual([{ why: 'SIGTERM' }]);
    expect(desk.lines('closed')).toEqual([{ pending: 0 }]);
    letGo(desk);
  });

  it('finishes the picture in hand, and leaves the next one for the next start', () => {
    const { desk, closed } = ends();
    desk.press();
    desk.run(600);
    desk.press();
    desk.run(600);
    desk.machine.send({ type: 'service.close', why: 'SIGTERM' });
    desk.press();
    desk.run(4000);
    expect(desk.lines('refused')).toEqual([{ why: 'closing' }]);
    expect(desk.seen.tails).toEqual([1]);
    expect(desk.seen.marks.at(-1)).toEqual([1, 'printed']);
    expect(desk.lines('closed')).toEqual([{ pending: 1 }]);
    expect(closed()).toBe(1);
    letGo(desk);
  });

  it('keeps the picture that is being taken, answers it, and then goes', () => {
    const { desk, closed } = ends();
    desk.press(40);
    expect(desk.machine.states().exposure).toBe('grabbing');
    desk.machine.send({ type: 'service.close', why: 'SIGTERM' });
    desk.run(1000);
    expect(desk.seen.kept).toEqual([1]);
    expect(desk.seen.coil).toHaveLength(2);
    expect(desk.lines('closed')).toEqual([{ pending: 1 }]);
    expect(closed()).toBe(1);
    letGo(desk);
  });

  it('takes five seconds at most: what can’t be finished is parked', () => {
    const { desk, closed } = ends({ byHand: ['job'] });
    desk.press();
    desk.run(600);
    desk.machine.send({ type: 'service.close', why: 'SIGTERM' });
    desk.run(4990);
    expect(closed()).toBe(0);
    desk.run(20);
    expect(closed()).toBe(1);
    expect(desk.seen.undone).toContain('body');
    letGo(desk);
  });

  it('waits for the album’s last word', () => {
    const { desk, closed } = ends({ byHand: ['mark'] });
    desk.press();
    desk.run(2500);
    desk.pending.mark[0].answer({ kind: 'kept' });
    desk.run(1000);
    desk.machine.send({ type: 'service.close', why: 'SIGTERM' });
    desk.run(1000);
    expect(closed()).toBe(0);
    desk.pending.mark[1].answer({ kind: 'kept' });
    expect(closed()).toBe(1);
  });

  it('a mark that can’t be written doesn’t hold it up: the picture is printed whole at the next start', () => {
    const { desk, closed } = ends({ throws: ['mark'] });
    desk.press();
    desk.run(3000);
    expect(desk.machine.states().output).toBe('sealing.unwritten');
    desk.machine.send({ type: 'service.close', why: 'SIGTERM' });
    expect(closed()).toBe(1);
    expect(desk.lines('closed')).toEqual([{ pending: 1 }]);
  });

  it('asked twice, it goes at once, and the coil is off', () => {
    const { desk, closed } = ends();
    desk.contact(true);
    desk.run(15);
    expect(desk.coilOn()).toBe(true);
    desk.machine.send({ type: 'service.close', why: 'SIGTERM' });
    expect(desk.coilOn()).toBe(true);
    desk.machine.send({ type: 'service.close', why: 'SIGTERM' });
    expect(closed()).toBe(1);
    letGo(desk);
  });

  it('nothing that comes afterwards wakes it', () => {
    const { desk } = ends({ byHand: ['keep'] });
    desk.press(20);
    desk.run(200);
    desk.machine.send({ type: 'service.close', why: 'SIGTERM' });
    desk.run(6000);
    const lines = desk.log.length;
    desk.pending.keep[0].answer({ kind: 'kept' });
    desk.machine.send({ type: 'service.load' });
    desk.press();
    desk.run(70_000);
    expect(desk.log.length).toBe(lines);
  });
});
