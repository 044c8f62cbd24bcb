import type { BoardFacts } from './board.ts';
import type { Profile } from './profile.ts';
import type { Config } from './schema.ts';

/** `fault`: the camera, or a part of it, won't work. `warning`: it works, and not as one would wish. `note`: worth knowing. */
export type Gravity = 'fault' | 'warning' | 'note';

export interface Finding {
  gravity: Gravity;
  /** The setting that it is about, for instance `printer.device`; '' for the file as a whole. */
  setting: string;
  what: string;
  why: string;
  mend: string;
}

export interface Checked {
  config: Config;
  profile: Profile;
  board: BoardFacts;
}

export const finding = (gravity: Gravity, setting: string, what: string, why: string, mend: string): Finding => ({
  gravity,
  setting,
  what,
  why,
  mend,
});
