import { assign } from 'xstate';
import { type Context, insertByAge, isUnderWay, mayPrint, recovered, settleKept } from './context.ts';
import type { Kit } from './kit.ts';
import type { World } from './world.ts';

/** The journal came while a picture was being taken that has no frame yet: its number may be that of an older one. */
const numberedAnew = ({ taking, nextShot: own }: Context, nextShot: number): Partial<Context> => {
  const free = Math.max(own, nextShot);
  return taking.shot === 0 || taking.shot >= nextShot || taking.numbered || taking.grabbedUs > 0
    ? { nextShot: free }
    : { nextShot: free + 1, taking: { ...taking, shot: free, numbered: true } };
};

/**
 * What is known of the parts, in one place: this region takes in everything they say, whatever the other regions are
 * doing. It has one state and comes first, so that the others see the facts as they are after the input.
 */
export const factsRegion = (kit: Kit, { log, roll, profile, rig: { album, clock } }: World) => {
  const answered = kit.assign({ owed: ({ context }) => context.owed - 1 });
  const paperMoved = kit.createAction(({ event }) => {
    if (!('paperLines' in event) || event.paperLines === 0) return;
    const mm = event.paperLines / profile.dotsPerMm;
    roll.used(mm);
    album.paperUsed(mm);
  });

  return kit.createStateConfig({
    initial: 'listening',
    states: {
      listening: {
        on: {
          'contact.made': { actions: assign(({ event }) => ({ lastEdgeUs: event.atUs })) },
          'contact.broken': { actions: assign(({ event }) => ({ lastEdgeUs: event.atUs })) },
          'webcam.ready': { actions: [assign({ seeing: true }), () => log('webcam-ready', {})] },
          'webcam.lost': {
            actions: [assign({ seeing: false }), ({ event }) => log('webcam-lost', { why: event.why })],
          },
          'album.opened': {
            actions: [
              assign(({ context, event: { pending, nextShot } }) => ({
                albumKnown: true,
                journalRead: true,
                ...numberedAnew(context, nextShot),
                // Where the journal came late, a picture taken meanwhile may bear the number of an older one: that waits
                // for the next start.
                queue: insertByAge(
                  context.queue,
                  pending.filter(({ shot }) => !isUnderWay(context, shot)).map(recovered),
                ),
              })),
              ({ event }) => {
                roll.used(event.paperUsedMm);
                log('album-opened', { pending: event.pending.length, nextShot: event.nextShot });
              },
            ],
          },
          'album.trouble': {
            actions: [
              assign({ albumKnown: true, albumTrouble: true }),
              ({ event }) => log('album-trouble', { why: event.why }),
            ],
          },
          'album.healed': {
            actions: [
              assign(({ context: { queue, setAside } }) => ({
                albumTrouble: false,
                queue: insertByAge(queue, setAside),
                setAside: [],
              })),
              () => log('album-healed', {}),
            ],
          },
          'album.asked': {
            actions: assign(({ context, event: { shot } }) => ({
              queue: isUnderWay(context, shot) ? context.queue : [...context.queue, recovered({ shot, mark: 'kept' })],
            })),
          },
          'keep.done': {
            actions: [
              answered,
              assign(({ context, event }) => ({ queue: settleKept(context.queue, event.shot, 'yes') })),
            ],
          },
          'keep.failed': {
            actions: [
              answered,
              assign(({ context, event }) => ({ queue: settleKept(context.queue, event.shot, 'no') })),
            ],
          },
          'mark.done': { actions: [answered, assign({ unwrittenUs: null })] },
          'mark.failed': {
            actions: [
              answered,
              assign(({ context }) => ({ unwrittenUs: context.unwrittenUs ?? clock.nowUs() })),
              ({ event: { shot, mark, why } }) => log('part-fault', { part: 'album', why: `${mark} ${shot}: ${why}` }),
            ],
          },
          'printer.condition': {
            actions: [
              ({ context: { condition: was }, event: { condition: is } }) => {
                if (is.lost && !was.lost) log('printer-lost', { why: 'it doesn’t answer or was unplugged' });
                if (!is.lost && was.lost) log('printer-found', {});
                if (is.nearEnd && !was.nearEnd) log('near-end', { paperLeftMm: Math.round(roll.leftMm()) });
              },
              assign(({ context, event: { condition } }) => ({
                condition,
                rollTouched: context.rollTouched || condition.lidOpen || condition.paperOut,
                unexplained: mayPrint({ condition, supplyLow: false }) ? context.unexplained : 0,
              })),
            ],
          },
          'supply.voltage': {
            actions: [
              ({ context, event: { volts, low } }) => {
                if (low !== context.supplyLow) log('supply', { volts, low });
              },
              assign(({ event }) => ({ supplyLow: event.low })),
            ],
          },
          'body.done': { actions: paperMoved },
          'body.stopped': { actions: paperMoved },
          'tail.done': { actions: paperMoved },
          'tail.stopped': { actions: paperMoved },
          'feed.done': { actions: paperMoved },
          'feed.stopped': { actions: paperMoved },
        },
      },
    },
  });
};
