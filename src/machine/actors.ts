import { type EventObject, fromCallback } from 'xstate';
import type { Undo } from '../parts/clock.ts';
import type { JobSaid } from '../parts/engine.ts';
import type { CameraEvent } from './events.ts';
import { type Crossing, isFit } from './frame-choice.ts';
import { makeStroke } from './stroke.ts';
import { type World, wallTime, wordsOf } from './world.ts';

type Tell = (event: CameraEvent) => void;

export interface GrabInput {
  notBeforeUs: number;
  crossings: readonly Crossing[];
}

/**
 * One actor for everything that the machine does to a part. Each starts something and returns its undo, so that leaving
 * a state lets go of the part however the state is left. What throws at the start becomes the invoke's `onError`.
 */
export const createActors = (world: World) => {
  const { rig, engine, memory, held, log, profile, roll } = world;

  const actor = <Input>(part: string, start: (tell: Tell, input: Input) => Undo) =>
    fromCallback<EventObject, Input>(({ sendBack, input }) => {
      const undo = start(sendBack, input);
      // A part that fails while it is let go must not keep the machine from going on.
      const letGo = () => {
        held.delete(letGo);
        try {
          undo();
        } catch (error) {
          log('part-fault', { part, why: wordsOf(error) });
        }
      };
      held.add(letGo);
      return letGo;
    });

  const job =
    (name: 'body' | 'tail' | 'feed', tell: Tell) =>
    (said: JobSaid): void => {
      if (said.kind === 'done') tell({ type: `${name}.done`, paperLines: said.paperLines });
      else if (said.kind === 'stopped') tell({ type: `${name}.stopped`, paperLines: said.paperLines });
    };

  return {
    button: actor<unknown>('button', tell =>
      rig.button.listen(({ down, atUs }) => tell({ type: down ? 'contact.made' : 'contact.broken', atUs })),
    ),

    webcam: actor<unknown>('webcam', tell =>
      rig.webcam.open(said =>
        tell(said.kind === 'ready' ? { type: 'webcam.ready' } : { type: 'webcam.lost', why: said.why }),
      ),
    ),

    album: actor<unknown>('album', tell =>
      rig.album.open(said => {
        switch (said.kind) {
          case 'opened': {
            const { pending, nextShot, paperUsedMm } = said;
            return tell({ type: 'album.opened', pending, nextShot, paperUsedMm });
          }
          case 'trouble':
            return tell({ type: 'album.trouble', why: said.why });
          case 'asked':
            return tell({ type: 'album.asked', shot: said.shot });
          case 'healed':
            return tell({ type: 'album.healed' });
        }
      }),
    ),

    engine: actor<unknown>('printer', tell =>
      engine.open(said => {
        if (said.kind === 'condition') tell({ type: 'printer.condition', condition: said.condition });
        else if (!said.feeding) {
          // Nothing hangs on it but the account of the paper.
          const mm = said.paperLines / profile.dotsPerMm;
          roll.used(mm);
          rig.album.paperUsed(mm);
        }
      }),
    ),

    supply: actor<unknown>('supply', tell =>
      rig.supply.listen(({ volts, low }) => tell({ type: 'supply.voltage', volts, low })),
    ),

    stroke: actor<unknown>('shutter', tell => makeStroke(world, tell)),

    grab: actor<GrabInput>('webcam', (tell, { notBeforeUs, crossings }) =>
      rig.webcam.watch(frame => {
        if (isFit(frame, notBeforeUs, crossings)) tell({ type: 'frame.fit', frame });
      }),
    ),

    recall: actor<number>('album', (tell, shot) =>
      rig.album.recall(shot, said =>
        tell(
          said.kind === 'recalled'
            ? { type: 'recall.done', frame: said.frame, takenAtMs: said.about.takenAtMs }
            : { type: 'recall.failed', why: said.why },
        ),
      ),
    ),

    develop: actor<{ shot: number; takenAtMs: number | null }>('darkroom', (tell, caption) => {
      const frame = memory.frames.get(caption.shot);
      if (!frame) throw new Error(`the frame of picture ${caption.shot} is not in memory`);
      return rig.darkroom.develop(frame, caption, said =>
        tell(
          said.kind === 'developed'
            ? { type: 'develop.done', dots: said.dots }
            : { type: 'develop.failed', why: said.why },
        ),
      );
    }),

    body: actor<unknown>('printer', tell => {
      const { dots } = memory;
      if (!dots) throw new Error('there are no dots to print');
      const report = job('body', tell);
      let begun = false;
      return engine.printBody(dots, said => {
        if (said.kind !== 'progress') return report(said);
        if (!begun) tell({ type: 'body.begun' });
        begun = true;
      });
    }),

    tail: actor<number>('printer', (tell, shot) => engine.printTail(shot, job('tail', tell))),

    feed: actor<number>('printer', (tell, mm) =>
      engine.feed(Math.round(mm * world.profile.dotsPerMm), job('feed', tell)),
    ),
  };
};

/** The board's time of a picture, or null where it doesn't know it. */
export const takenAt = ({ rig }: World): number | null => wallTime(rig.clock.wallMs());
