import type { Profile } from '../../config/profile.ts';
import type { Config } from '../../config/schema.ts';
import type { Rig } from '../../parts/rig.ts';

/** A setting that a trial suggests, with its reason. */
export interface Finding {
  /** Where it belongs in the configuration. */
  path: readonly [string, string];
  value: number | string | boolean;
  why: string;
}

/** Where parts are tried: the board, or a desk with virtual parts whose person answers by itself. */
export interface Bench {
  rig: Rig;
  config: Config;
  profile: Profile;
  say(text: string): void;
  /** Asks the person; an end of input answers ''. */
  ask(question: string): Promise<string>;
  /** Lets time go on; the parts report meanwhile. */
  pause(ms: number): Promise<void>;
  /** At a desk: does what the text asks a hand to do. On the board nothing: a person reads the text. */
  hand(act: 'press', times: number): void;
  /** Keeps a file for the person to look at; says where. */
  keep(name: string, bytes: Uint8Array): string;
}

/** What must be read and agreed to before a part moves, heats or carries current. */
export interface Trial {
  part: string;
  /** One line: what will happen. */
  does: string;
  /** Empty where nothing moves or heats. */
  cautions: readonly string[];
  run(bench: Bench): Promise<Finding[]>;
}

export const agreed = (answer: string): boolean => /^(y|yes)$/i.test(answer.trim());

/** Waits in small steps until something holds or time is up; says whether it holds. */
export const until = async (bench: Bench, holds: () => boolean, mostMs: number, stepMs = 20): Promise<boolean> => {
  for (let waited = 0; waited < mostMs; waited += stepMs) {
    if (holds()) return true;
    await bench.pause(stepMs);
  }
  return holds();
};
