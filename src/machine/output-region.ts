import { and, assign, not } from 'xstate';
import { blackDots } from '../parts/black-dots.ts';
import type { Dots } from '../parts/darkroom.ts';
import { albumDuty } from './album-duty.ts';
import { changeFirst, insertByAge, isTriedAgain } from './context.ts';
import type { Kit } from './kit.ts';
import { first, outputActs } from './output-acts.ts';
import type { World } from './world.ts';

const inkPercent = ({ data, widthDots, heightDots }: Dots): number =>
  Math.round((1000 * blackDots(data)) / Math.max(1, widthDots * heightDots)) / 10;

/**
 * From a picture in the queue to paper at the tear edge. Everything comes back to `idle`, which looks at what is in hand
 * and goes on with it: recall, develop, wait, rest, print, or only the tail. Paper moves here only while nobody serves
 * the camera.
 */
export const outputRegion = (kit: Kit, world: World) => {
  const { engine, log, memory, rig } = world;
  const { clock } = rig;
  const duty = albumDuty(kit, world);
  const acts = outputActs(kit, world);

  /**
   * Two states that see a mark written before anything goes on. A cut between an unwritten mark and the next start would
   * print a picture a second time, or close the wrong one, so the disk gets a while to heal; after that what can't be
   * written is remembered for as long as this program runs. A picture that is only in memory never waits.
   */
  const written = <Next extends '#presenting' | '#output-idle'>(
    id: string,
    ask: typeof duty.markClosing,
    answers: 'answersClosing' | 'answersPrinted',
    next: Next,
    then: typeof acts.putAway | [],
  ) => ({
    marking: kit.createStateConfig({
      entry: ask,
      on: {
        'mark.done': { guard: answers, target: next, actions: then },
        'mark.failed': [
          { guard: and([answers, 'onlyInMemory']), target: next, actions: then },
          { guard: answers, target: 'unwritten' },
        ],
      },
      after: { mark: { guard: 'onlyInMemory', target: next, actions: then } },
    }),
    unwritten: kit.createStateConfig({
      id,
      on: { 'album.healed': 'marking' },
      after: {
        markAgain: [{ guard: 'triedLongEnough', target: next, actions: then }, { target: 'marking' }],
      },
    }),
  });

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
          { guard: and(['onlyTail', 'mayPrint']), target: 'presenting', actions: acts.startedAt('printUs') },
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
          onError: acts.notReady('album'),
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
          'recall.failed': acts.notReady('album'),
        },
      },
      developing: {
        id: 'developing',
        entry: acts.startedAt('developUs'),
        invoke: {
          src: 'develop',
          id: 'develop',
          input: ({ context: { queue } }) => ({ shot: queue[0].shot, takenAtMs: queue[0].takenAtMs }),
          onError: acts.notReady('darkroom'),
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
          'develop.failed': acts.notReady('darkroom'),
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
        entry: [acts.startedAt('waitingUs'), acts.sayWaiting, acts.saidWhy],
        on: {
          'printer.condition': { actions: [acts.sayNewReason, acts.saidWhy] },
          'supply.voltage': { actions: [acts.sayNewReason, acts.saidWhy] },
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
        entry: acts.startedAt('printUs'),
        invoke: { src: 'body', id: 'body', onError: acts.printerFailed },
        on: {
          'body.begun': {
            actions: ({ context: { queue } }) =>
              log('print-begun', {
                shot: queue[0].shot,
                pressToDotUs: queue[0].pressedUs === null ? 0 : clock.nowUs() - queue[0].pressedUs,
              }),
          },
          'body.done': { target: 'sealing', actions: assign(({ event }) => ({ bodyLines: event.paperLines })) },
          'body.stopped': acts.cut,
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
          ...written('unsealed', duty.markClosing, 'answersClosing', '#presenting', []),
        },
      },
      presenting: {
        id: 'presenting',
        entry: assign(({ context }) => ({ queue: changeFirst(context.queue, { stage: 'tail' }) })),
        invoke: { src: 'tail', id: 'tail', input: ({ context }) => first(context), onError: acts.printerFailed },
        on: {
          'tail.done': [
            { guard: 'needsNoMark', target: 'idle', actions: [...acts.printed, ...acts.putAway] },
            { target: 'filing', actions: acts.printed },
          ],
          'tail.stopped': acts.cut,
        },
      },
      // Nothing else goes on paper before this is written: a second tail would close the wrong picture.
      filing: {
        initial: 'marking',
        states: {
          ...written('unfiled', duty.markPrinted, 'answersPrinted', '#output-idle', acts.putAway),
        },
      },
    },
  });
};
