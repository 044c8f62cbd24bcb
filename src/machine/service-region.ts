import { and, assign } from 'xstate';
import { onceMore } from './context.ts';
import { feedMm, type Kit } from './kit.ts';
import { refusal } from './refusal.ts';
import { type World, wordsOf } from './world.ts';

/**
 * Paper moved by hand, rolls changed, the end of the program. Paper moves here only once the output has let go of it,
 * and the output begins nothing while this region isn't idle. Gestures get their meaning here: what the configuration
 * says, or while loading what the hands need.
 */
export const serviceRegion = (kit: Kit, world: World) => {
  const { config, log, rig, roll } = world;

  const say = (state: string) => () => log('service', { state });
  const refuse = refusal(kit, log);
  const jogBy = (mm: number) => kit.assign({ jogMm: mm });
  const newRoll = [
    () => {
      roll.newRoll();
      rig.album.paperUsed(0, true);
      log('service', { state: 'new-roll' });
    },
    kit.assign({ rollLow: false, rollTouched: false }),
  ];

  /** What a gesture does is settled by the configuration, once. */
  const gesture = (name: 'press' | 'hold' | 'double') => {
    const action = config.gestures[name];
    const said = () => log('gesture', { gesture: name, action });
    switch (action) {
      case 'none':
        return {};
      case 'picture':
        return {
          actions: kit.raise(({ event }) => ({
            type: 'TAKE',
            pressedUs: 'pressedUs' in event ? event.pressedUs : rig.clock.nowUs(),
            settledUs: 'settledUs' in event ? event.settledUs : 0,
          })),
        };
      case 'feed':
        return { actions: [said, kit.raise({ type: 'service.jog', mm: feedMm.feed })] };
      case 'close':
        return { actions: [said, kit.raise({ type: 'service.close', why: name })] };
      default:
        return { actions: [said, kit.raise({ type: `service.${action}` })] };
    }
  };

  /** Moves paper by `jogMm`. */
  const moving = <Next extends '#service-idle' | '#loading-open'>(next: Next) =>
    kit.createStateConfig({
      invoke: {
        src: 'feed',
        id: 'feed',
        input: ({ context }) => context.jogMm,
        onError: {
          target: next,
          actions: ({ event }) => log('part-fault', { part: 'printer', why: wordsOf(event.error) }),
        },
      },
      on: { 'feed.done': next, 'feed.stopped': next },
    });
  const jogAsked = kit.assign({ jogMm: ({ event }) => ('mm' in event ? event.mm : 0) });

  return kit.createStateConfig({
    initial: 'idle',
    on: { 'service.close': '#closing' },
    states: {
      idle: {
        id: 'service-idle',
        on: {
          PRESS: gesture('press'),
          DOUBLE: gesture('double'),
          HOLD: gesture('hold'),
          'service.jog': { target: 'jogging', actions: jogAsked },
          'service.load': 'loading',
          'service.new-roll': { actions: newRoll },
          'service.reprint': [
            {
              guard: 'mayReprint',
              actions: assign(({ context: { queue, lastPrinted } }) => ({
                queue: lastPrinted === null ? queue : [...queue, onceMore(lastPrinted)],
              })),
            },
            refuse('nothing-to-reprint'),
          ],
        },
      },
      jogging: {
        entry: say('jogging'),
        on: { PRESS: refuse('busy') },
        initial: 'pending',
        states: {
          pending: {
            always: [
              { guard: and(['paperFree', 'back']), target: 'back' },
              { guard: 'paperFree', target: 'forward' },
            ],
          },
          forward: moving('#service-idle'),
          back: moving('#service-idle'),
        },
      },
      loading: {
        id: 'loading',
        entry: say('loading'),
        on: {
          PRESS: refuse('busy'),
          HOLD: [
            { guard: 'rollChanged', target: 'idle', actions: newRoll },
            { target: 'idle', actions: say('same-roll') },
          ],
          'service.loaded': { target: 'idle', actions: newRoll },
        },
        initial: 'pending',
        states: {
          pending: { always: { guard: 'paperFree', target: 'open' } },
          open: {
            id: 'loading-open',
            on: {
              PRESS: { target: 'forward', actions: jogBy(feedMm.jogForward) },
              DOUBLE: { target: 'back', actions: jogBy(feedMm.jogBack) },
              'service.jog': [
                { guard: ({ event }) => event.mm < 0, target: 'back', actions: jogAsked },
                { target: 'forward', actions: jogAsked },
              ],
              // New paper was laid in and the lid closed: draw it in.
              'printer.condition': [
                { guard: 'paperCame', target: 'intake', actions: jogBy(feedMm.intake) },
                // Somebody is at it.
                { target: 'open', reenter: true },
              ],
            },
            after: { loadingIdle: { guard: 'paperLies', target: '#service-idle', actions: say('loading-left') } },
          },
          forward: {
            ...moving('#loading-open'),
            on: {
              // The second press of a double comes while the first still moves paper.
              DOUBLE: { actions: jogBy(feedMm.jogBack) },
              'feed.done': [{ guard: 'back', target: 'back' }, { target: 'open' }],
              'feed.stopped': 'open',
            },
          },
          back: moving('#loading-open'),
          intake: moving('#loading-open'),
        },
      },
      closing: {
        id: 'closing',
        entry: ({ event }) => log('closing', { why: 'why' in event ? event.why : '' }),
        on: { PRESS: refuse('closing'), 'service.close': '#closed' },
        // What is in hand may be finished; what can't be finished in time is printed whole at the next start.
        always: { guard: and(['exposureRests', 'outputRests', 'nothingOwed']), target: '#closed' },
        after: { closing: '#closed' },
      },
    },
  });
};
