import type { Profile } from '../src/config/profile.ts';
import type { Config } from '../src/config/schema.ts';
import type { Rig } from '../src/parts/rig.ts';
import { createDeveloper } from '../src/picture/develop.ts';
import { resolveLook } from '../src/picture/looks.ts';
import { createVirtualRig } from './rig.ts';

export interface DeskBench {
  rig: Rig;
  /** Lets virtual time go on. */
  run(ms: number): void;
  press(times: number): void;
  close(): void;
}

const noAlbum = {
  open: () => () => {},
  keep: () => {},
  mark: () => {},
  keepDots: () => {},
  recall: () => () => {},
  paperUsed: () => {},
};

/** Virtual parts to try out at a desk, with a hand that presses when it is asked to. */
export const createDeskBench = (config: Config, profile: Profile, seed = 1): DeskBench => {
  const developer = createDeveloper({
    picture: config.picture,
    look: resolveLook(config.picture),
    profile,
    cameraName: config.camera.name,
  });
  const virtual = createVirtualRig({
    config,
    profile,
    seed,
    develop: (frame, caption) => developer.develop(frame, caption),
    createAlbum: () => noAlbum,
  });
  return {
    rig: virtual.rig,
    run: ms => virtual.clock.runUntil(virtual.clock.nowUs() + ms * 1000),
    press(times) {
      for (let i = 0; i < times; i++)
        virtual.clock.after((300 + 700 * i) * 1000, () => virtual.control.press(140, true));
    },
    close: () => virtual.powerCut(),
  };
};
