import { and, assign } from 'xstate';
import { takenAt } from './actors.ts';
import { albumDuty } from './album-duty.ts';
import { justTaken, settleKept } from './context.ts';
import { type Pulse, withPulse } from './duty.ts';
import type { Crossing } from './frame-choice.ts';
import { fixedMs, type Kit } from './kit.ts';
import { refusal } from './refusal.ts';
import { type World, wordsOf } from './world.ts';

/** Crossings that a frame still on its way could have met: the last picture's second stroke and this one's first. */
const crossingsRemembered = 2;

/**
 * From a press to a picture that is safe. The first stroke answers the finger; the second is given only when the album
 * has the picture durably. A coil that can't be driven never costs the picture.
 */
export const exposureRegion = (kit: Kit, world: World) => {
  const { config, log, memory, rig } = world;
  const { clock } = rig;
  const duty = albumDuty(kit, world);

  const refuse = refusal(kit, log);
  const missed = (why: string) => ({
    target: 'locked' as const,
    actions: [
      kit.createAction(({ context }) => log('missed', { shot: context.taking.shot, why })),
      kit.raise({ type: 'note.missed' }),
    ],
  });
  const crossingsOf = (pulses: readonly Pulse[]): Crossing[] =>
    pulses
      .slice(-crossingsRemembered)
      .map(({ fromUs, toUs }) => ({ fromUs, toUs: toUs + config.shutter.bladesClearMs * 1000 }));

  const stroke = <Next extends 'grabbing' | 'locked'>(name: 'first' | 'second', next: Next) =>
    kit.createStateConfig({
      invoke: {
        src: 'stroke',
        id: 'stroke',
        onError: { target: next, actions: ({ event }) => log('coil-fault', { why: wordsOf(event.error) }) },
      },
      on: {
        'coil.on': {
          actions: ({ context: { taking }, event }) =>
            log('coil', { shot: taking.shot, pressToCoilUs: event.atUs - taking.pressedUs, stroke: name }),
        },
        'coil.off': {
          target: next,
          actions: assign(({ context: { pulses, taking }, event: { onUs, atUs } }) => ({
            pulses: withPulse(pulses, { fromUs: onUs, toUs: atUs }),
            taking: { ...taking, struck: true },
          })),
        },
        'coil.failed': {
          target: next,
          actions: [
            ({ event }) => log('coil-fault', { why: event.why }),
            assign(({ context: { pulses, taking }, event: { onUs } }) => {
              if (onUs === null) return {};
              // The coil's own guard lets it go at the latest after its longest pulse.
              const offUs = onUs + config.shutter.longestPulseMs * 1000;
              return { pulses: withPulse(pulses, { fromUs: onUs, toUs: offUs }), taking: { ...taking, struck: true } };
            }),
          ],
        },
      },
    });

  /** The next frame of a burst. */
  const takeAnother = kit.assign(({ context }) => ({
    nextShot: context.nextShot + 1,
    taking: {
      ...context.taking,
      shot: context.nextShot,
      numbered: context.journalRead,
      left: context.taking.left - 1,
      takenAtMs: takenAt(world),
      notBeforeUs: clock.nowUs() + fixedMs.burstGap * 1000,
      grabbedUs: 0,
    },
  }));
  const safe = kit.createAction(({ context: { taking } }) =>
    log('kept', { shot: taking.shot, keepUs: clock.nowUs() - taking.grabbedUs }),
  );
  const unsafe = [
    kit.createAction(({ context: { taking }, event }) =>
      log('not-kept', { shot: taking.shot, why: 'why' in event ? event.why : 'the album doesn’t answer' }),
    ),
    kit.assign(({ context: { taking, queue } }) => ({
      taking: { ...taking, safe: false },
      queue: settleKept(queue, taking.shot, 'no'),
    })),
    kit.raise({ type: 'note.unkept' }),
  ];
  const nowReady = () => log('ready', { sinceStartMs: Math.round(clock.nowUs() / 1000) });

  return kit.createStateConfig({
    id: 'exposure',
    initial: 'warming',
    on: { TAKE: refuse('busy') },
    states: {
      warming: {
        id: 'warming',
        on: { TAKE: refuse('warming'), 'webcam.lost': 'blind' },
        always: {
          guard: 'sees',
          target: 'ready',
          actions: nowReady,
        },
      },
      blind: {
        id: 'blind',
        on: { TAKE: refuse('blind') },
        always: {
          guard: 'sees',
          target: 'ready',
          actions: nowReady,
        },
      },
      ready: {
        id: 'ready',
        always: { guard: 'blind', target: 'blind' },
        on: {
          TAKE: [
            { guard: 'queueFull', ...refuse('queue-full') },
            { guard: 'supplyLow', ...refuse('supply-low') },
            {
              target: 'firing',
              actions: [
                assign(({ context, event: { pressedUs, settledUs } }) => ({
                  nextShot: context.nextShot + 1,
                  taking: {
                    shot: context.nextShot,
                    pressedUs,
                    settledUs,
                    takenAtMs: takenAt(world),
                    notBeforeUs: clock.nowUs(),
                    left: config.picture.burst - 1,
                    numbered: context.journalRead,
                    struck: false,
                    safe: true,
                    grabbedUs: 0,
                  },
                })),
                ({ context: { taking } }) => log('press', { shot: taking.shot, settledUs: taking.settledUs }),
              ],
            },
          ],
        },
      },
      firing: stroke('first', 'grabbing'),
      grabbing: {
        invoke: {
          src: 'grab',
          id: 'grab',
          input: ({ context: { taking, pulses } }) => ({
            notBeforeUs: taking.notBeforeUs,
            crossings: crossingsOf(pulses),
          }),
          onError: missed('the webcam failed'),
        },
        after: { frameTimeout: missed('no fit frame came in time') },
        on: {
          'frame.fit': {
            target: 'keeping',
            actions: [
              assign(({ context: { taking, queue } }) => ({
                taking: { ...taking, grabbedUs: clock.nowUs() },
                queue: [...queue, justTaken(taking)],
              })),
              ({ context: { taking }, event: { frame } }) => {
                memory.frames.set(taking.shot, frame);
                log('frame', {
                  shot: taking.shot,
                  sequence: frame.sequence,
                  pressToFrameUs: frame.exposureEndUs - taking.pressedUs,
                  digest: world.digest(frame),
                });
              },
            ],
          },
        },
        always: { guard: 'blind', ...missed('the webcam is gone') },
      },
      keeping: {
        entry: duty.keep,
        on: {
          'keep.done': [
            { guard: and(['answersTaking', 'more']), target: 'grabbing', actions: [safe, takeAnother] },
            { guard: and(['answersTaking', 'mayAcknowledge']), target: 'answering', actions: safe },
            { guard: 'answersTaking', target: 'locked', actions: safe },
          ],
          'keep.failed': [
            { guard: and(['answersTaking', 'more']), target: 'grabbing', actions: [...unsafe, takeAnother] },
            { guard: 'answersTaking', target: 'locked', actions: unsafe },
          ],
        },
        // A late answer still settles what is known of the picture.
        after: { keep: { target: 'locked', actions: unsafe } },
      },
      answering: stroke('second', 'locked'),
      locked: {
        id: 'locked',
        after: { lockout: [{ guard: 'sees', target: 'ready' }, { target: 'blind' }] },
      },
    },
  });
};
