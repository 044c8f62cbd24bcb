import { and } from 'xstate';
import type { Kit } from './kit.ts';
import type { World } from './world.ts';

/**
 * Raw contact to gestures. A contact counts once it was still for `settleMs`; each edge before that starts the time
 * over. Where edges are heard late, their stamps tell that it was still. Loose contact while held is the same hold. A
 * second press within `doubleMs` of the first is a double and not
 * another press, where a double means something.
 */
export const buttonRegion = (kit: Kit, { rig: { clock } }: World) => {
  const counts = (type: 'PRESS' | 'DOUBLE') => [
    kit.raise(({ context: { edgeUs } }) => ({ type, pressedUs: edgeUs, settledUs: clock.nowUs() - edgeUs })),
    // After a double, a third press is a press again.
    kit.assign({ lastPressUs: ({ context }) => (type === 'PRESS' ? context.edgeUs : Number.NEGATIVE_INFINITY) }),
  ];

  const edge = kit.assign(({ event }) => ('atUs' in event ? { edgeUs: event.atUs } : {}));

  return kit.createStateConfig({
    initial: 'open',
    states: {
      open: {
        id: 'open',
        on: { 'contact.made': { target: 'settling', actions: edge } },
      },
      settling: {
        id: 'settling',
        initial: 'made',
        states: {
          made: {
            on: {
              'contact.made': { target: 'made', reenter: true },
              'contact.broken': [
                {
                  guard: and(['wasStill', 'followsPress', 'doubleMeansSomething']),
                  target: '#letting',
                  actions: counts('DOUBLE'),
                },
                {
                  guard: and(['wasStill', 'followsPress', 'inLoading', 'paperGoesBack']),
                  target: '#letting',
                  actions: counts('DOUBLE'),
                },
                { guard: 'wasStill', target: '#letting', actions: counts('PRESS') },
                { target: 'broken' },
              ],
            },
            after: {
              settle: [
                { guard: and(['followsPress', 'doubleMeansSomething']), target: '#held', actions: counts('DOUBLE') },
                {
                  guard: and(['followsPress', 'inLoading', 'paperGoesBack']),
                  target: '#held',
                  actions: counts('DOUBLE'),
                },
                { target: '#held', actions: counts('PRESS') },
              ],
            },
          },
          broken: {
            on: {
              'contact.made': [{ guard: 'wasStill', target: 'made', actions: edge }, { target: 'made' }],
              'contact.broken': { target: 'broken', reenter: true },
            },
            after: { settle: '#open' },
          },
        },
      },
      held: {
        id: 'held',
        initial: 'pressed',
        after: { hold: { actions: kit.raise({ type: 'HOLD' }) } },
        states: {
          pressed: { on: { 'contact.broken': 'letting' } },
          letting: {
            id: 'letting',
            on: {
              'contact.made': [
                { guard: 'wasStill', target: '#settling', actions: [kit.raise({ type: 'RELEASE' }), edge] },
                { target: 'pressed' },
              ],
              'contact.broken': { target: 'letting', reenter: true },
            },
            after: { settle: { target: '#open', actions: kit.raise({ type: 'RELEASE' }) } },
          },
        },
      },
    },
  });
};
