import { buttonRegion } from './button-region.ts';
import { initialContext } from './context.ts';
import { exposureRegion } from './exposure-region.ts';
import { factsRegion } from './facts-region.ts';
import { createKit } from './kit.ts';
import { noticeRegion } from './notice-region.ts';
import { outputRegion } from './output-region.ts';
import { serviceRegion } from './service-region.ts';
import { type World, wordsOf } from './world.ts';

/**
 * The camera: regions side by side, so that a picture can be taken while the last one prints. It knows ports,
 * configuration and log, no Linux and no printer bytes.
 */
export const createCameraMachine = (world: World) => {
  const kit = createKit(world);
  /** A part that can't be opened: the camera goes on without it as far as it can. */
  const part = <Name extends 'button' | 'webcam' | 'album' | 'engine' | 'supply'>(name: Name) => ({
    src: name,
    id: name,
    input: undefined,
    onError: {
      actions: [
        kit.createAction(({ event }) =>
          world.log('part-fault', { part: name, why: 'error' in event ? wordsOf(event.error) : '' }),
        ),
        ...(name === 'album' ? [kit.raise({ type: 'album.trouble', why: 'it can’t be opened' })] : []),
        ...(name === 'webcam' ? [kit.raise({ type: 'webcam.lost', why: 'it can’t be opened' })] : []),
      ],
    },
  });

  return kit.createMachine({
    id: 'camera',
    context: initialContext(world.pictureMm),
    initial: 'awake',
    states: {
      awake: {
        type: 'parallel',
        invoke: [part('album'), part('engine'), part('supply'), part('webcam'), part('button')],
        states: {
          facts: factsRegion(kit, world),
          button: buttonRegion(kit, world),
          exposure: exposureRegion(kit, world),
          output: outputRegion(kit, world),
          service: serviceRegion(kit, world),
          notice: noticeRegion(kit),
        },
      },
      closed: {
        id: 'closed',
        type: 'final',
        entry: ({ context }) => world.log('closed', { pending: context.queue.length }),
      },
    },
  });
};

export type CameraMachine = ReturnType<typeof createCameraMachine>;
