import { describe, expect, it } from 'vitest';
import { faults } from '../../../sim/faults.ts';
import { mishaps } from '../../../sim/live/desk.ts';
import { quickDesk, until } from './fixture.ts';

const eventsOf = (news: { log: { event: string }[] }) => news.log.map(({ event }) => event);

describe('a camera on the desk', () => {
  it('takes a picture at a press, and its paper comes out line by line', () => {
    const desk = quickDesk();
    const read = desk.reader();
    const events: string[] = [];
    const lines: number[] = [];
    desk.button(true);
    desk.advance(100_000);
    expect(desk.standing()).toMatchObject({ button: true });
    desk.button(false);
    until(desk, () => {
      const news = read();
      events.push(...eventsOf(news));
      if (news.paper.to > news.paper.from) lines.push(news.paper.to - news.paper.from);
      return events.includes('printed');
    });
    expect(events.filter(event => ['press', 'frame', 'kept', 'developed', 'printed'].includes(event))).toEqual([
      'press',
      'frame',
      'kept',
      'developed',
      'printed',
    ]);
    // 50 mm/s at 8 dots/mm are 10 lines in 25 ms at most.
    expect(Math.max(...lines)).toBeLessThanOrEqual(18);
    expect(lines.reduce((sum, count) => sum + count, 0)).toBe(desk.paper.at - desk.paper.tearDots);
    expect(desk.paper.pictures()).toHaveLength(1);
  });

  it('takes a picture at a press that begins and ends between two beats, as a click of a mouse may', () => {
    const desk = quickDesk();
    const read = desk.reader();
    desk.button(true);
    desk.button(false);
    const events: string[] = [];
    until(desk, () => {
      events.push(...eventsOf(read()));
      return events.includes('kept');
    });
    expect(desk.standing().button).toBe(false);
    expect(events.filter(event => event === 'press')).toHaveLength(1);
  });

  it('lets nothing happen twice to a reader, and nothing to one that came later', () => {
    const desk = quickDesk();
    const early = desk.reader();
    desk.tap(100);
    desk.advance(300_000);
    const late = desk.reader();
    expect(early().samples.filter(({ name, value }) => name === 'coil' && value === 1).length).toBeGreaterThan(0);
    expect(early().samples).toEqual([]);
    expect(late().samples).toEqual([]);
  });

  it.each(mishaps)('$name happens, can be seen, is put right, and a press then gives a picture', ({ name }) => {
    const desk = quickDesk();
    const calm = desk.standing().pattern;
    expect(calm).toBe('ready');
    desk.toggle(name);
    desk.advance(6_000_000);
    expect(desk.standing().wrong).toEqual([name]);
    desk.toggle(name);
    expect(desk.standing().wrong).toEqual([]);
    desk.advance(20_000_000);
    const read = desk.reader();
    desk.tap(100);
    const events: string[] = [];
    until(desk, () => {
      events.push(...eventsOf(read()));
      return events.includes('printed');
    });
    expect(faults[name].what).not.toBe('');
  });

  it('says by its lamp what is missing, and goes on after a new roll', () => {
    const desk = quickDesk();
    desk.toggle('paper-out');
    desk.tap(100);
    until(desk, () => desk.standing().pattern === 'paper-out');
    expect(desk.standing().means).toContain('no paper');
    desk.newRoll();
    const read = desk.reader();
    const events: string[] = [];
    until(desk, () => {
      events.push(...eventsOf(read()));
      return events.includes('printed');
    });
    expect(desk.standing()).toMatchObject({ wrong: [] });
  });

  it('has no states without power, and prints what it was printing when it is back', () => {
    const desk = quickDesk();
    desk.tap(100);
    until(desk, () => desk.paper.at > desk.paper.tearDots + 60);
    desk.toggle('power-cut');
    desk.advance(2_000_000);
    expect(desk.standing()).toMatchObject({ alive: false, states: null, means: 'no power' });
    const read = desk.reader();
    desk.toggle('power-cut');
    const events: string[] = [];
    until(desk, () => {
      events.push(...eventsOf(read()));
      return events.includes('printed');
    });
    expect(events[0]).toBe('album-opened');
    expect(events).not.toContain('press');
  });

  it('shows the lens a scene, and marks where the strip is torn', () => {
    const desk = quickDesk();
    const seen = desk.look(40, 30);
    expect(seen).toHaveLength(1200);
    expect(Math.max(...seen) - Math.min(...seen)).toBeGreaterThan(60);
    const read = desk.reader();
    desk.tear();
    expect(read().tears).toEqual([desk.paper.at - desk.paper.tearDots]);
    expect(read().tears).toEqual([]);
  });
});
