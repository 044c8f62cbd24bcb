import { and, assign, not } from 'xstate';
import type { Dots } from '../parts/darkroom.ts';
import { albumDuty } from './album-duty.ts';
import {
  asideWithFirst,
  type Context,
  changeFirst,
  insertByAge,
  isTriedAgain,
  mayPrint,
  whyWaiting,
} from './context.ts';
import type { Kit } from './kit.ts';
import { type World, wordsOf } from './world.ts';

const inkPercent = ({ data, widthDots, heightDots }: Dots): number => {
  let black = 0;
  for (let byte of data) for (; byte !== 0; byte &= byte - 1) black++;
  return Math.round((1000 * black) / Math.max(1, widthDots * heightDots)) / 10;
};

const first = (context: Context): number => context.queue[0]?.shot ?? 0;

/**
 * From a picture in the queue to paper at the tear edge. Everything comes back to `idle`, which looks at what is in hand
 * and goes on with it: recall, develop, wait, rest, print, or only the tail. Paper moves here only while nobody serves
 * the camera.
 */
export const outputRegion = (kit: Kit, world: World) => {
  const { engine, log, memory, profile, rig, roll } = world;
  const { clock } = rig;
  const duty = albumDuty(kit, world);

  /** In memory stays what is on its way, and the last printed picture, which may be wanted once more. */
  const forgetFrames = kit.createAction(({ context: { queue, setAside, lastPrinted } }) => {
    const needed = new Set([...queue, ...setAside].filter(({ inMemory }) => inMemory).map(({ shot }) => shot));
    for (const shot of memory.frames.keys())
      if (!needed.has(shot) && shot !== lastPrinted?.shot) memory.frames.delete(shot);
  });
  const startedAt = (step: 'developUs' | 'printUs' | 'waitingUs') => kit.assign({ [step]: () => clock.nowUs() });
  /** A picture that can't be made ready lets the others pass and is tried again later, though not forever. */
  const notReady = (part: string) => ({
    target: 'idle' as const,
    actions: [
      kit.createAction(({ context, event }) => {
        const why = 'why' in event ? event.why : 'error' in event ? wordsOf(event.error) : 'it failed';
        log('part-fault', { part, why: `picture ${first(context)}: ${why}` });
      }),
      kit.assign({
        setAside: ({ context }) => asideWithFirst(context),
        queue: ({ context }) => context.queue.slice(1),
      }),
      forgetFrames,
    ],
  });
  const sayWaiting = kit.createAction(({ context }) => log('waiting', { why: whyWaiting(context) }));
  const saidWhy = kit.assign({ saidWhy: ({ context }) => whyWaiting(context) });
  const sayNewReason = kit.createAction(({ context }) => {
    const why = whyWaiting(context);
    if (!mayPrint(context) && why !== context.saidWhy) log('waiting', { why });
  });
  /** Tried again ever more slowly where nobody can say what is wrong. */
  const oneMoreUnexplained = kit.assign({
    unexplained: ({ context }) => (mayPrint(context) ? context.unexplained + 1 : 0),
  });
  const cut = {
    target: 'waiting' as const,
    actions: [
      kit.createAction(({ context }) => log('print-cut', { shot: first(context), why: whyWaiting(context) })),
      oneMoreUnexplained,
    ],
  };
  const printerFailed = {
    target: 'waiting' as const,
    actions: [
      kit.createAction(({ event }) =>
        log('part-fault', { part: 'printer', why: 'error' in event ? wordsOf(event.error) : 'it failed' }),
      ),
      oneMoreUnexplained,
    ],
  };

  const printed = [
    kit.assign(({ context: { bodyLines, pictureMm } }) => ({
      pictureMm: bodyLines > 0 ? bodyLines / profile.dotsPerMm + profile.tearMm : pictureMm,
    })),
    kit.createAction(({ context: { queue, pictureMm, printUs, rollLow } }) => {
      memory.dots = null;
      log('printed', {
        shot: queue[0].shot,
        printUs: clock.nowUs() - printUs,
        paperLeftMm: Math.round(roll.leftMm()),
        picturesLeft: roll.picturesLeft(pictureMm),
      });
      if (roll.nearEnd(pictureMm) && !rollLow) log('near-end', { paperLeftMm: Math.round(roll.leftMm()) });
    }),
    kit.assign(({ context: { pictureMm } }) => ({
      dotsOf: null,
      bodyLines: 0,
      rollLow: roll.nearEnd(pictureMm),
      unexplained: 0,
    })),
  ];
  const putAway = [
    kit.assign(({ context: { queue } }) => ({ lastPrinted: queue[0], queue: queue.slice(1) })),
    forgetFrames,
  ];

  return kit.createStateConfig({
    initial: 'idle',
    states: {
      idle: {
        id: 'output-idle',
        always: [
          { guard: and(['hasWork', 'serviceIdle']), target: 'choosing' },
          { guard: and(['hasAside', not('hasWork')]), target: 'biding' },
        ],
      },
      biding: {
        id: 'biding',
        always: [
          { guard: 'hasWork', target: 'idle' },
          { guard: not('hasAside'), target: 'idle' },
        ],
        after: {
          biding: {
            target: 'idle',
            actions: assign(({ context: { queue, setAside } }) => ({
              queue: insertByAge(queue, setAside.filter(isTriedAgain)),
              setAside: setAside.filter(queued => !isTriedAgain(queued)),
            })),
          },
        },
      },
      choosing: {
        always: [
          { guard: and(['onlyTail', 'mayPrint']), target: 'presenting', actions: startedAt('printUs') },
          { guard: 'onlyTail', target: 'waiting' },
          { guard: and(['dotsReady', not('mayPrint')]), target: 'waiting' },
          { guard: and(['dotsReady', 'mustRest']), target: 'resting' },
          { guard: 'dotsReady', target: 'printing' },
          { guard: 'inMemory', target: 'developing' },
          { target: 'recalling' },
        ],
      },
      recalling: {
        id: 'recalling',
        invoke: {
          src: 'recall',
          id: 'recall',
          input: ({ context }) => first(context),
          onError: notReady('album'),
        },
        on: {
          'recall.done': {
            target: 'developing',
            actions: [
              ({ context, event }) => void memory.frames.set(first(context), event.frame),
              assign(({ context, event: { takenAtMs } }) => ({
                queue: changeFirst(context.queue, { inMemory: true, takenAtMs }),
              })),
            ],
          },
          'recall.failed': notReady('album'),
        },
      },
      developing: {
        id: 'developing',
        entry: startedAt('developUs'),
        invoke: {
          src: 'develop',
          id: 'develop',
          input: ({ context: { queue } }) => ({ shot: queue[0].shot, takenAtMs: queue[0].takenAtMs }),
          onError: notReady('darkroom'),
        },
        on: {
          'develop.done': {
            target: 'idle',
            actions: [
              ({ context, event: { dots } }) => {
                const { shot, kept, again } = context.queue[0];
                memory.dots = dots;
                if (kept !== 'no' && !again) rig.album.keepDots(shot, dots);
                log('developed', {
                  shot,
                  developUs: clock.nowUs() - context.developUs,
                  inkPercent: inkPercent(dots),
                });
              },
              assign(({ context }) => ({ dotsOf: first(context) })),
            ],
          },
          'develop.failed': notReady('darkroom'),
        },
      },
      resting: {
        id: 'resting',
        entry: () => log('rest', { restMs: Math.ceil(engine.restUs() / 1000) }),
        after: { rest: 'idle' },
      },
      waiting: {
        id: 'waiting',
        initial: 'troubled',
        entry: [startedAt('waitingUs'), sayWaiting, saidWhy],
        on: {
          'printer.condition': { actions: [sayNewReason, saidWhy] },
          'supply.voltage': { actions: [sayNewReason, saidWhy] },
        },
        states: {
          troubled: { always: { guard: 'mayPrint', target: 'healing' } },
          healing: {
            always: { guard: 'mayNotPrint', target: 'troubled' },
            after: {
              healed: {
                target: '#output-idle',
                actions: ({ context }) =>
                  log('resumed', { waitedMs: Math.round((clock.nowUs() - context.waitingUs) / 1000) }),
              },
            },
          },
        },
      },
      printing: {
        id: 'printing',
        entry: startedAt('printUs'),
        invoke: { src: 'body', id: 'body', onError: printerFailed },
        on: {
          'body.begun': {
            actions: ({ context: { queue } }) =>
              log('print-begun', {
                shot: queue[0].shot,
                pressToDotUs: queue[0].pressedUs === null ? 0 : clock.nowUs() - queue[0].pressedUs,
              }),
          },
          'body.done': { target: 'sealing', actions: assign(({ event }) => ({ bodyLines: event.paperLines })) },
          'body.stopped': cut,
        },
      },
      sealing: {
        id: 'sealing',
        initial: 'unsure',
        states: {
          unsure: {
            always: [
              { guard: 'needsNoMark', target: '#presenting' },
              { guard: 'settled', target: 'marking' },
            ],
          },
          marking: {
            entry: duty.markClosing,
            on: {
              'mark.done': { guard: 'answersClosing', target: '#presenting' },
              'mark.failed': [
                { guard: and(['answersClosing', 'onlyInMemory']), target: '#presenting' },
                { guard: 'answersClosing', target: 'unwritten' },
              ],
            },
            after: { mark: { guard: 'onlyInMemory', target: '#presenting' } },
          },
          // A cut between an unwritten mark and the next start would print the picture a second time, so the disk gets
          // a while to heal. After that what can't be written is remembered for as long as this program runs.
          unwritten: {
            id: 'unsealed',
            on: { 'album.healed': 'marking' },
            after: { markAgain: [{ guard: 'triedLongEnough', target: '#presenting' }, { target: 'marking' }] },
          },
        },
      },
      presenting: {
        id: 'presenting',
        entry: assign(({ context }) => ({ queue: changeFirst(context.queue, { stage: 'tail' }) })),
        invoke: { src: 'tail', id: 'tail', input: ({ context }) => first(context), onError: printerFailed },
        on: {
          'tail.done': [
            { guard: 'needsNoMark', target: 'idle', actions: [...printed, ...putAway] },
            { target: 'filing', actions: printed },
          ],
          'tail.stopped': cut,
        },
      },
      // Nothing else goes on paper before this is written: a second tail would close the wrong picture.
      filing: {
        initial: 'marking',
        states: {
          marking: {
            entry: duty.markPrinted,
            on: {
              'mark.done': { guard: 'answersPrinted', target: '#output-idle', actions: putAway },
              'mark.failed': [
                { guard: and(['answersPrinted', 'onlyInMemory']), target: '#output-idle', actions: putAway },
                { guard: 'answersPrinted', target: 'unwritten' },
              ],
            },
            after: { mark: { guard: 'onlyInMemory', target: '#output-idle', actions: putAway } },
          },
          unwritten: {
            id: 'unfiled',
            on: { 'album.healed': 'marking' },
            after: {
              markAgain: [
                { guard: 'triedLongEnough', target: '#output-idle', actions: putAway },
                { target: 'marking' },
              ],
            },
          },
        },
      },
    },
  });
};
