import type { BoardFacts } from '../../config/board.ts';
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

/** Where parts are tried: the board, or a desk with virtual parts whose hand presses by itself. */
export interface Bench {
  rig: Rig;
  config: Config;
  profile: Profile;
  say(text: string): void;
  /** What only somebody who looks, listens or feels can answer; null where nobody is there, as in a script. Throws when the person stops. */
  sees(question: string): Promise<boolean | null>;
  /** Lets time go on; the parts report meanwhile. Throws when the person stops. */
  pause(ms: number): Promise<void>;
  /** Time as it passes, µs: the rig's own clock stands still on the board from one input to the next. */
  nowUs(): number;
  /** At a desk: does what the text asks a hand to do. On the board nothing: a person reads the text. */
  hand(act: 'press', times: number): void;
  /** At a desk: the strip as it hangs out of the printer, as PNG. On the board null: a person has it in the hand. */
  paper(): Uint8Array | null;
  /** Keeps a file for the person to look at; says where. */
  keep(name: string, bytes: Uint8Array): string;
  /** Why the part can't be had here; '' where it can. */
  lacks(part: string): string;
  /** What the webcam offers; null where it can't be asked. */
  webcamOffers(): Promise<NonNullable<BoardFacts['webcam']> | null>;
  /** Battery voltage now; null where the sensor gives none. */
  volts(): number | null;
}

/** `unjudged`: it did what it was told as far as the program can know, and nobody was there to look. */
export interface Outcome {
  verdict: 'works' | 'fails' | 'unjudged';
  findings: readonly Finding[];
}

export const works = (...findings: readonly Finding[]): Outcome => ({ verdict: 'works', findings });
export const fails: Outcome = { verdict: 'fails', findings: [] };
export const unjudged: Outcome = { verdict: 'unjudged', findings: [] };
/** From an answer of `sees`. */
export const judged = (answer: boolean | null): Outcome => (answer === null ? unjudged : answer ? works() : fails);

/** What must be read and agreed to before a part moves, heats or carries current. */
export interface Trial {
  part: string;
  /** One line: what will happen. */
  does: string;
  /** Empty where nothing moves or heats. */
  cautions: readonly string[];
  /** The setting by which the part isn't fitted; '' where it is. */
  unfitted(config: Config): string;
  run(bench: Bench): Promise<Outcome>;
}

/** Waits in small steps until something holds or time is up; says whether it holds. */
export const until = async (bench: Bench, holds: () => boolean, mostMs: number, stepMs = 20): Promise<boolean> => {
  for (let waited = 0; waited < mostMs; waited += stepMs) {
    if (holds()) return true;
    await bench.pause(stepMs);
  }
  return holds();
};
