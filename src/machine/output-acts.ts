import { asideWithFirst, type Context, mayPrint, whyWaiting } from './context.ts';
import type { Kit } from './kit.ts';
import { type World, wordsOf } from './world.ts';

/** Number of the picture in hand. */
export const first = (context: Context): number => context.queue[0]?.shot ?? 0;

/** What the output does on its ways from state to state. */
export const outputActs = (kit: Kit, world: World) => {
  const { log, memory, profile, rig, roll } = world;
  const { clock } = rig;

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
    // A tail alone, after a cut, says nothing of a whole picture.
    kit.assign(({ context: { bodyLines, pictureMm }, event }) => ({
      pictureMm:
        bodyLines > 0 && 'paperLines' in event ? (bodyLines + event.paperLines) / profile.dotsPerMm : pictureMm,
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

  return { startedAt, notReady, sayWaiting, saidWhy, sayNewReason, cut, printerFailed, printed, putAway };
};
