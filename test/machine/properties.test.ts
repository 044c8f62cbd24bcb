import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { createDesk, type Desk, type DeskOptions, fine } from './desk.ts';

/** Something that happens at a party, and how long until the next thing. */
type Deed =
  | { do: 'press'; heldMs: number }
  | { do: 'bounce'; edges: number }
  | { do: 'trouble'; which: keyof typeof fine }
  | { do: 'heal printer' }
  | { do: 'webcam'; there: boolean }
  | { do: 'supply'; low: boolean }
  | { do: 'coil'; fails: boolean }
  | { do: 'album'; fails: boolean }
  | { do: 'darkroom'; fails: boolean }
  | { do: 'rest'; us: number }
  | { do: 'service'; type: 'service.load' | 'service.loaded' | 'service.new-roll' }
  | { do: 'jog'; mm: number };

const deed: fc.Arbitrary<Deed> = fc.oneof(
  { weight: 8, arbitrary: fc.record({ do: fc.constant('press' as const), heldMs: fc.integer({ min: 1, max: 1600 }) }) },
  { weight: 2, arbitrary: fc.record({ do: fc.constant('bounce' as const), edges: fc.integer({ min: 2, max: 30 }) }) },
  {
    weight: 3,
    arbitrary: fc.record({
      do: fc.constant('trouble' as const),
      which: fc.constantFrom(...(Object.keys(fine) as (keyof typeof fine)[])),
    }),
  },
  { weight: 2, arbitrary: fc.record({ do: fc.constant('heal printer' as const) }) },
  { weight: 2, arbitrary: fc.record({ do: fc.constant('webcam' as const), there: fc.boolean() }) },
  { weight: 1, arbitrary: fc.record({ do: fc.constant('supply' as const), low: fc.boolean() }) },
  { weight: 1, arbitrary: fc.record({ do: fc.constant('coil' as const), fails: fc.boolean() }) },
  { weight: 1, arbitrary: fc.record({ do: fc.constant('album' as const), fails: fc.boolean() }) },
  { weight: 1, arbitrary: fc.record({ do: fc.constant('darkroom' as const), fails: fc.boolean() }) },
  { weight: 1, arbitrary: fc.record({ do: fc.constant('rest' as const), us: fc.integer({ min: 0, max: 5_000_000 }) }) },
  {
    weight: 1,
    arbitrary: fc.record({
      do: fc.constant('service' as const),
      type: fc.constantFrom('service.load' as const, 'service.loaded' as const, 'service.new-roll' as const),
    }),
  },
  { weight: 1, arbitrary: fc.record({ do: fc.constant('jog' as const), mm: fc.integer({ min: -20, max: 20 }) }) },
);
const party = fc.array(fc.record({ what: deed, thenMs: fc.integer({ min: 0, max: 2500 }) }), { maxLength: 40 });

interface Guests {
  desk: Desk;
  act(what: Deed): void;
  healAll(): void;
}

const invite = (options: DeskOptions = {}): Guests => {
  let coilFails = false;
  let coolUs = 0;
  const failing = { keep: false, mark: false, recall: false, develop: false };
  const desk: Desk = createDesk({
    reverse: true,
    coilFails: () => coilFails,
    restUs: () => Math.max(0, coolUs - desk.clock.nowUs()),
    failing,
    jobsStopWhenTroubled: true,
    ...options,
  });
  const album = (fails: boolean) => {
    if (fails === failing.keep) return;
    failing.keep = fails;
    failing.mark = fails;
    failing.recall = fails;
    desk.say.album(fails ? { kind: 'trouble', why: 'read only' } : { kind: 'healed' });
  };
  const act = (what: Deed) => {
    switch (what.do) {
      case 'press':
        return desk.press(what.heldMs);
      case 'bounce':
        for (let i = 0; i < what.edges; i++) {
          desk.contact(i % 2 === 0);
          desk.run(0.7);
        }
        return desk.contact(false);
      case 'trouble':
        return desk.say.condition({ [what.which]: true });
      case 'heal printer':
        return desk.say.condition(fine);
      case 'webcam':
        return desk.say.webcam(what.there ? { kind: 'ready' } : { kind: 'lost', why: 'unplugged' });
      case 'supply':
        return desk.say.supply({ kind: 'voltage', volts: what.low ? 6 : 7.4, low: what.low });
      case 'coil':
        coilFails = what.fails;
        return;
      case 'album':
        return album(what.fails);
      case 'darkroom':
        failing.develop = what.fails;
        return;
      case 'rest':
        coolUs = desk.clock.nowUs() + what.us;
        return;
      case 'service':
        return desk.machine.send({ type: what.type });
      case 'jog':
        return desk.machine.send({ type: 'service.jog', mm: what.mm });
    }
  };
  return {
    desk,
    act,
    healAll() {
      desk.contact(false);
      coilFails = false;
      coolUs = 0;
      album(false);
      failing.develop = false;
      desk.say.condition(fine);
      desk.say.webcam({ kind: 'ready' });
      desk.say.supply({ kind: 'voltage', volts: 7.4, low: false });
    },
  };
};

const counts = (numbers: readonly number[]) => {
  const times = new Map<number, number>();
  for (const number of numbers) times.set(number, (times.get(number) ?? 0) + 1);
  return times;
};

describe('whatever happens', () => {
  it('one picture a press, none printed twice, all acknowledged ones printed once healed, and ready again', () => {
    fc.assert(
      fc.property(party, deeds => {
        const { desk, act, healAll } = invite();
        for (const { what, thenMs } of deeds) {
          act(what);
          desk.run(thenMs);
          // The queue and the one in hand, what is being taken, and the last one printed.
          expect(desk.machine.framesHeld()).toBeLessThanOrEqual(desk.config.queue.longest + 3);
        }
        healAll();
        desk.run(30_000);
        expect(desk.machine.states()).toMatchObject({ button: 'open', exposure: 'ready', service: 'idle' });
        desk.run(300_000);
        expect(desk.machine.states()).toMatchObject({ output: 'idle', notice: 'quiet' });

        const shots = desk.lines('press').map(({ shot }) => shot);
        expect(shots).toEqual(shots.map((_, i) => i + 1));
        // A picture counts as printed with its tail; a body may have been cut and printed again.
        for (const [shot, times] of counts(desk.seen.tails)) expect({ shot, times }).toEqual({ shot, times: 1 });
        const acknowledged = desk
          .lines('coil')
          .filter(({ stroke }) => stroke === 'second')
          .map(({ shot }) => shot);
        expect(acknowledged.filter(shot => !desk.seen.tails.includes(shot))).toEqual([]);
        expect(acknowledged.filter(shot => !desk.seen.kept.includes(shot))).toEqual([]);
        // Two strokes a picture at most, each of one pulse.
        for (const [, strokes] of counts(desk.lines('coil').map(({ shot }) => shot)))
          expect(strokes).toBeLessThanOrEqual(2);
        for (const { onUs, offUs } of desk.seen.coil)
          expect((offUs ?? Number.POSITIVE_INFINITY) - onUs).toBe(desk.config.shutter.pulseMs * 1000);
      }),
      { numRuns: 150 },
    );
  });

  it('stopped or closed at any moment, nothing stays on', () => {
    fc.assert(
      fc.property(party, fc.boolean(), (deeds, closes) => {
        const { desk, act } = invite();
        for (const { what, thenMs } of deeds) {
          act(what);
          desk.run(thenMs);
        }
        if (closes) {
          desk.machine.send({ type: 'service.close', why: 'test' });
          desk.run(5001);
        } else desk.machine.stop();
        expect(desk.coilOn()).toBe(false);
        expect([...desk.running]).toEqual([]);
        expect(desk.seen.motor.at(-1) ?? 'off').toBe('off');
        expect(desk.seen.lamp.at(-1)).toBe('closed');
        expect(desk.machine.states().service).toBe(closes ? 'closed' : desk.machine.states().service);
      }),
      { numRuns: 100 },
    );
  });

  it('the same party goes the same way, line by line', () => {
    fc.assert(
      fc.property(party, deeds => {
        const [once, again] = [invite(), invite()].map(({ desk, act }) => {
          for (const { what, thenMs } of deeds) {
            act(what);
            desk.run(thenMs);
          }
          return desk.log;
        });
        expect(again).toEqual(once);
      }),
      { numRuns: 30 },
    );
  });

  it('the coil is never on outside its two states, nor the tail sent before its mark is durable', () => {
    fc.assert(
      fc.property(party, deeds => {
        const { desk, act } = invite();
        for (const { what, thenMs } of deeds) {
          act(what);
          for (const untilUs = desk.clock.nowUs() + thenMs * 1000; desk.clock.step(untilUs); )
            if (desk.coilOn()) expect(['firing', 'answering']).toContain(desk.machine.states().exposure);
        }
        for (const shot of desk.seen.tails) {
          const closing = desk.seen.durable.findIndex(([marked, mark]) => marked === shot && mark === 'closing');
          if (desk.seen.kept.includes(shot) && !desk.lines('part-fault').some(({ part }) => part === 'album'))
            expect(closing).toBeGreaterThanOrEqual(0);
        }
      }),
      { numRuns: 100 },
    );
  });
});
