import { not, or, setup, stateIn } from 'xstate';
import { createActors } from './actors.ts';
import { type Context, hasRoom, isTriedAgain, isUnderWay, mayPrint, paperLies } from './context.ts';
import { dutyRestUs } from './duty.ts';
import type { CameraEvent } from './events.ts';
import { canReverse, type World } from './world.ts';

/** Times that are not worth a setting, ms. */
export const fixedMs = {
  /** A printer's troubles must be over for this long before a picture is begun again; doubles where they are unexplained. */
  healed: 500,
  /** A picture that couldn't be made ready is tried again, doubling each time up to sixteen times this. */
  biding: 5000,
  shortestRest: 250,
  refusedShown: 700,
  missedShown: 3000,
  unkeptShown: 4000,
  /** An album that doesn't answer for this long can't vouch for the picture. */
  keep: 10_000,
  /** A mark that couldn't be written is tried again; once none could be for the second time, they are given up. */
  markAgain: 2000,
  unwritten: 60_000,
  /** Loading that nobody goes on with, while paper lies in the printer. */
  loadingIdle: 20_000,
  /** What is in hand may still be finished when the program is asked to end. */
  closing: 5000,
  /** From one frame of a burst to the next. */
  burstGap: 600,
} as const;

/** Paper moved by one request, mm. */
export const feedMm = { feed: 10, jogForward: 5, jogBack: -10, intake: 25 } as const;

/** What all regions are made from: types, actors, guards and delays of one camera. */
export const createKit = (world: World) => {
  const { config, engine, profile, rig } = world;
  return setup({
    types: {} as { context: Context; events: CameraEvent },
    actors: createActors(world),
    guards: {
      /** The contact closed soon enough after the last press to make a double of it. */
      followsPress: ({ context }) => context.edgeUs - context.lastPressUs <= config.button.doubleMs * 1000,
      /** Edges that are heard late: the contact had been still before this one, though no timer could run. */
      wasStill: ({ context, event }) =>
        'atUs' in event && event.atUs - context.lastEdgeUs >= config.button.settleMs * 1000,
      doubleMeansSomething: () => config.gestures.double !== 'none',
      paperGoesBack: () => canReverse(world),
      inLoading: stateIn('#loading'),
      serviceIdle: stateIn('#service-idle'),

      sees: ({ context }) => context.seeing && context.albumKnown,
      blind: ({ context }) => !context.seeing,
      queueFull: ({ context }) => !hasRoom(context, config.queue.longest),
      supplyLow: ({ context }) => context.supplyLow,
      more: ({ context }) => context.taking.left > 0,
      mayAcknowledge: ({ context: { taking } }) => taking.struck && taking.safe,
      answersTaking: ({ context, event }) => 'shot' in event && event.shot === context.taking.shot,

      mayPrint: ({ context }) => mayPrint(context),
      mayNotPrint: ({ context }) => !mayPrint(context),
      hasAside: ({ context }) => context.setAside.some(isTriedAgain),
      hasWork: ({ context }) => context.queue.length > 0,
      onlyTail: ({ context }) => context.queue[0]?.stage === 'tail',
      dotsReady: ({ context }) => context.queue.length > 0 && context.dotsOf === context.queue[0].shot,
      inMemory: ({ context }) => context.queue[0]?.inMemory ?? false,
      mustRest: () => engine.restUs() > 0,
      needsNoMark: ({
        context: {
          queue: [first],
        },
      }) => first?.again === true || (first?.numbered === false && first.kept === 'no'),
      /** The album's word on it is there; even a picture that it says it hasn't may have reached the disk. */
      settled: ({ context: { queue } }) => queue[0] !== undefined && queue[0].kept !== 'pending',
      onlyInMemory: ({ context: { queue } }) => queue[0]?.kept === 'no',
      triedLongEnough: ({ context: { unwrittenUs } }) =>
        unwrittenUs !== null && rig.clock.nowUs() - unwrittenUs >= fixedMs.unwritten * 1000,
      answersClosing: ({ context, event }) =>
        'mark' in event && event.mark === 'closing' && event.shot === context.queue[0]?.shot,
      answersPrinted: ({ context, event }) =>
        'mark' in event && event.mark === 'printed' && event.shot === context.queue[0]?.shot,

      back: ({ context }) => context.jogMm < 0,
      paperFree: not(or([stateIn('#printing'), stateIn('#sealing'), stateIn('#presenting')])),
      /** Whether the end of loading is the beginning of a roll; a printer without status can't tell, so it is. */
      rollChanged: ({ context }) => context.rollTouched || profile.commands.status === 'none',
      paperLies: ({ context }) => paperLies(context.condition),
      paperCame: ({ context, event }) =>
        event.type === 'printer.condition' && !paperLies(context.condition) && paperLies(event.condition),
      mayReprint: ({ context }) => context.lastPrinted !== null && !isUnderWay(context, context.lastPrinted.shot),
      exposureRests: or([stateIn('#warming'), stateIn('#blind'), stateIn('#ready'), stateIn('#locked')]),
      outputRests: or([
        stateIn('#output-idle'),
        stateIn('#biding'),
        stateIn('#recalling'),
        stateIn('#developing'),
        stateIn('#resting'),
        stateIn('#unsealed'),
        stateIn('#unfiled'),
        stateIn('#waiting'),
      ]),
      nothingOwed: ({ context }) => context.owed === 0,
    },
    delays: {
      settle: config.button.settleMs,
      hold: config.button.holdMs,
      frameTimeout: ({ context }) =>
        config.webcam.frameTimeoutMs + Math.max(0, context.taking.notBeforeUs - rig.clock.nowUs()) / 1000,
      keep: fixedMs.keep,
      mark: fixedMs.keep,
      lockout: ({ context: { pulses, taking } }) => {
        const nowUs = rig.clock.nowUs();
        const lockedUs = taking.pressedUs - nowUs + config.shutter.lockoutMs * 1000;
        return Math.max(0, lockedUs, dutyRestUs(pulses, nowUs, config.shutter)) / 1000;
      },
      /** Not too short, so that an estimate that comes out a hair short can't spin. */
      rest: () => Math.max(fixedMs.shortestRest, Math.ceil(engine.restUs() / 1000)),
      markAgain: fixedMs.markAgain,
      /** Ever longer, by the picture that was tried least. */
      biding: ({ context: { setAside } }) =>
        fixedMs.biding * 2 ** Math.min(4, Math.min(...setAside.map(({ tries }) => tries)) - 1),
      healed: ({ context }) => fixedMs.healed * 2 ** Math.min(context.unexplained, 5),
      refusedShown: fixedMs.refusedShown,
      missedShown: fixedMs.missedShown,
      unkeptShown: fixedMs.unkeptShown,
      loadingIdle: fixedMs.loadingIdle,
      closing: fixedMs.closing,
    },
  });
};

export type Kit = ReturnType<typeof createKit>;
