import { describe, expect, it } from 'vitest';
import { createVirtualClock } from '../../sim/clock.ts';
import { createLife } from '../../sim/life.ts';

const setUp = () => {
  const world = createVirtualClock();
  const life = createLife(world);
  const happened: string[] = [];
  const note = (what: string) => happened.push(`${what} ${life.clock.nowUs()}/${world.nowUs()}`);
  return { world, life, happened, note };
};

describe('a life of the program', () => {
  it('fires a chain of timers at the world’s own times', () => {
    const { world, life, happened, note } = setUp();
    life.clock.after(10, () => {
      note('a');
      life.clock.after(5, () => note('b'));
    });
    world.runUntil(100);
    expect(happened).toEqual(['a 10/10', 'b 15/15']);
  });

  it('after a stall fires timers at their deadlines first, chains included, then hears what waited', () => {
    const { world, life, happened, note } = setUp();
    const heard = life.hear('button', note);
    life.clock.after(10, () => {
      note('a');
      life.clock.after(5, () => note('b'));
    });
    world.after(5, () => life.stall(45));
    world.after(12, () => heard('input'));
    world.runUntil(100);
    expect(happened).toEqual(['a 10/50', 'b 15/50', 'input 50/50']);
  });

  it('hears, fires and does nothing once it has ended', () => {
    const { world, life, happened, note } = setUp();
    const heard = life.hear('button', note);
    const act = life.act(note);
    life.clock.after(10, () => note('timer'));
    world.after(5, () => life.end());
    world.after(20, () => {
      heard('input');
      act('deed');
    });
    world.runUntil(100);
    expect(happened).toEqual([]);
  });

  it('can end at any thing that it does', () => {
    const { life, happened, note } = setUp();
    const act = life.act(note);
    life.endAtStep(2, () => life.end());
    act('first');
    act('second');
    act('third');
    expect(happened).toEqual(['first 0/0']);
  });
});
