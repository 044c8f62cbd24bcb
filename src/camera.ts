import type { Profile } from './config/profile.ts';
import type { Config } from './config/schema.ts';
import type { Log } from './console/vocabulary.ts';
import { type RunningMachine, startMachine } from './machine/start.ts';
import type { States } from './machine/states.ts';
import type { Rig } from './parts/rig.ts';
import { createPrintEngine } from './print/engine.ts';
import { type Imprint, pictureOnPaperMm } from './print/imprint.ts';
import { digestOfFrame } from './record/digest.ts';
import { createRoll } from './roll/roll.ts';

export interface CameraOptions {
  rig: Rig;
  config: Config;
  profile: Profile;
  log: Log;
  /** Marks and code for the margin; null prints none. Made by the caller, since its encoder is slow to load. */
  imprint: Imprint | null;
  onTransition?(states: States): void;
  onBroken?(error: unknown): void;
}

/** Puts machine and print engine on a rig: what `run`, `rehearse` and `replay` all start. */
export const startCamera = ({ rig, config, profile, log, imprint, ...heard }: CameraOptions): RunningMachine =>
  startMachine({
    rig,
    engine: createPrintEngine({ clock: rig.clock, printer: rig.printer, profile, config, imprint }),
    config,
    profile,
    roll: createRoll(config.printer),
    pictureMm: pictureOnPaperMm(profile, config),
    log,
    digest: digestOfFrame,
    ...heard,
  });
