import type { Profile } from '../config/profile.ts';
import type { Config } from '../config/schema.ts';
import type { Log } from '../console/vocabulary.ts';
import type { Dots } from '../parts/darkroom.ts';
import type { PrintEngine } from '../parts/engine.ts';
import type { Rig } from '../parts/rig.ts';
import type { Frame } from '../parts/webcam.ts';

/** The roll's account, as far as the machine needs it; millimetres. */
export interface RollAccount {
  used(mm: number): void;
  newRoll(): void;
  leftMm(): number;
  picturesLeft(pictureMm: number): number;
  /** Whether to warn. */
  nearEnd(pictureMm: number): boolean;
}

/** Frames and dots of pictures on their way; kept out of the machine's context, bounded by the queue. */
interface Memory {
  frames: Map<number, Frame>;
  dots: Dots | null;
}

/** Everything that the machine's actors and actions can reach. */
export interface World {
  rig: Omit<Rig, 'printer'>;
  engine: PrintEngine;
  config: Config;
  profile: Pick<Profile, 'dotsPerMm' | 'tearMm' | 'commands' | 'quirks' | 'widthDots'>;
  roll: RollAccount;
  log: Log;
  memory: Memory;
  /** Undoes of everything that is started now: what is left to do if the machine itself should break. */
  held: Set<() => void>;
  /** Names a frame's content in the log. */
  digest(frame: Frame): string;
  /** Paper that a whole picture will take, until one was measured; mm. */
  pictureMm: number;
}

export const wordsOf = (error: unknown): string => (error instanceof Error ? error.message : String(error));

/** A board without a clock starts in 1970: a time before this program was written is no time. */
const firstPossibleMs = 1_735_689_600_000;
export const wallTime = (wallMs: number): number | null => (wallMs < firstPossibleMs ? null : wallMs);

/** Whether the printer can take paper back at all. */
export const canReverse = ({ profile }: World): boolean => profile.commands.reverse && !profile.quirks.ignoresReverse;
