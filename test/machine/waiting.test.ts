import { describe, expect, it } from 'vitest';
import { createDesk } from './desk.ts';
import { job, shoot } from './hands.ts';

describe('waiting', () => {
  it.each([
    ['lost', { lost: true }],
    ['lid-open', { lidOpen: true }],
    ['paper-out', { paperOut: true }],
    ['head-hot', { headHot: true }],
    ['off-line', { offLine: true }],
  ] as const)('%s: said, shown, healed, printed once', (why, change) => {
    const desk = createDesk();
    desk.say.condition(change);
    expect(desk.seen.lamp.at(-1)).toBe(why);
    shoot(desk);
    desk.run(5000);
    expect(desk.lines('waiting')).toEqual([{ why }]);
    expect(desk.seen.lamp.at(-1)).toBe(why);
    expect(desk.machine.states().exposure).toBe('ready');
    desk.say.condition(Object.fromEntries(Object.keys(change).map(key => [key, false])));
    desk.run(5000);
    expect(desk.seen.bodies).toEqual([1]);
    expect(desk.seen.lamp.at(-1)).toBe('ready');
  });

  it('for the battery, which doesn’t cut what is being printed', () => {
    const desk = createDesk();
    shoot(desk);
    desk.run(500);
    desk.press();
    desk.run(500);
    desk.say.supply({ kind: 'voltage', volts: 6.1, low: true });
    desk.run(5000);
    expect(desk.seen.bodies).toEqual([1]);
    expect(desk.lines('waiting')).toEqual([{ why: 'supply-low' }]);
    desk.say.supply({ kind: 'voltage', volts: 6.15, low: true });
    expect(desk.lines('supply')).toHaveLength(1);
    desk.say.supply({ kind: 'voltage', volts: 6.8, low: false });
    desk.run(5000);
    expect(desk.seen.bodies).toEqual([1, 2]);
  });

  it('a trouble that comes and goes is over only when it stays away', () => {
    const desk = createDesk({ byHand: ['job'] });
    desk.say.condition({ lidOpen: true });
    shoot(desk);
    for (let i = 0; i < 10; i++) {
      desk.say.condition({ lidOpen: false });
      desk.run(300);
      desk.say.condition({ lidOpen: true });
      desk.run(300);
    }
    expect(desk.pending.job).toEqual([]);
    desk.say.condition({ lidOpen: false });
    desk.run(501);
    expect(desk.pending.job).toHaveLength(1);
  });

  it('a print that stops for no reason is tried again ever more slowly, up to sixteen seconds', () => {
    const desk = createDesk({ byHand: ['job'] });
    shoot(desk);
    const gaps: number[] = [];
    for (let i = 0; i < 8; i++) {
      job(desk, 'body').answer({ kind: 'stopped', paperLines: 3 });
      const fromUs = desk.clock.nowUs();
      while (desk.pending.job.length === 0) desk.clock.step();
      gaps.push((desk.clock.nowUs() - fromUs) / 1e6);
    }
    expect(gaps).toEqual([1, 2, 4, 8, 16, 16, 16, 16]);
    expect(desk.lines('waiting')[0]).toEqual({ why: 'stopped' });
    expect(desk.seen.lamp).toContain('pausing');
    job(desk, 'body').answer({ kind: 'done', paperLines: 600 });
    desk.run(100);
    job(desk, 'tail').answer({ kind: 'stopped', paperLines: 0 });
    desk.run(17_000);
    job(desk, 'tail').answer({ kind: 'done', paperLines: 120 });
    expect(desk.lines('printed')).toHaveLength(1);
  });

  it.each(['body', 'tail'] as const)('a printer whose %s can’t even begin is tried again', what => {
    const desk = createDesk({ throws: [what] });
    shoot(desk);
    desk.run(60_000);
    const faults = desk.lines('part-fault');
    expect(faults.length).toBeGreaterThan(3);
    expect(faults.length).toBeLessThan(10);
    expect(faults[0]).toEqual({ part: 'printer', why: `no ${what}` });
    expect(desk.machine.states().exposure).toBe('ready');
  });
});

describe('a head that must cool', () => {
  it('rests before the next picture, says so, and looks again', () => {
    let coolUs = 0;
    const desk = createDesk({ restUs: () => Math.max(0, coolUs - desk.clock.nowUs()) });
    coolUs = desk.clock.nowUs() + 6_000_000;
    shoot(desk);
    expect(desk.machine.states().output).toBe('resting');
    expect(desk.seen.lamp.at(-1)).toBe('resting');
    coolUs += 2_000_000;
    desk.run(12_000);
    expect(desk.lines('rest')).toHaveLength(2);
    expect(desk.seen.bodies).toEqual([1]);
    const begun = desk.log.find(({ event }) => event === 'print-begun');
    expect(begun?.atUs).toBeGreaterThanOrEqual(coolUs);
  });

  it('an estimate that never quite ends doesn’t hang the program', () => {
    const desk = createDesk({ restUs: () => 0.2 });
    shoot(desk);
    desk.run(3000);
    expect(desk.lines('rest').length).toBeLessThan(20);
    expect(desk.seen.bodies).toEqual([]);
  });
});

describe('little paper', () => {
  it('is said by the sensor, once each time', () => {
    const desk = createDesk();
    desk.say.condition({ nearEnd: true });
    desk.say.condition({ nearEnd: true, offLine: true });
    desk.say.condition({ offLine: false });
    expect(desk.lines('near-end')).toEqual([{ paperLeftMm: 9000 }]);
    expect(desk.seen.lamp.at(-1)).toBe('near-end');
  });

  it('is said by the account, until a new roll is counted', () => {
    const desk = createDesk({ picturesLeft: () => 4 });
    shoot(desk);
    desk.run(4000);
    expect(desk.lines('near-end')).toHaveLength(1);
    expect(desk.seen.lamp.at(-1)).toBe('near-end');
    expect(desk.lines('printed')[0].picturesLeft).toBe(4);
    desk.machine.send({ type: 'service.new-roll' });
    expect(desk.seen.lamp.at(-1)).toBe('ready');
    expect(desk.seen.newRolls).toBe(1);
  });
});
