import type { Undo } from './clock.ts';
import type { Dots } from './darkroom.ts';
import type { Frame } from './webcam.ts';

/** What is known of a picture at the moment it is kept. */
export interface About {
  /** Wall time in milliseconds since 1970, or null where the board didn't know it. */
  takenAtMs: number | null;
  /** Press to end of exposure and the like, microseconds; for the log and `about.json`. */
  pressToFrameUs: number;
}

/**
 * The life of a print, durable step by step:
 * kept → (body printed) → `closing`, marked before the tail is sent → `printed`, marked once the tail is out.
 * After a cut: kept means print it whole; closing means print only the tail.
 */
export type PrintMark = 'closing' | 'printed';

export interface Pending {
  shot: number;
  mark: 'kept' | 'closing';
}

export type AlbumSaid =
  /** The journal has been read: what still has to be printed (oldest first) and the number of the next picture. */
  | { kind: 'opened'; pending: readonly Pending[]; nextShot: number; paperUsedMm: number }
  /**
   * Nothing can be kept (disk full, read-only, gone); the camera goes on printing from memory. May come before
   * `opened`, which then follows when the disk can be read: the next number is the greater of the album's and the
   * machine's own.
   */
  | { kind: 'trouble'; why: string }
  /** Somebody at the keyboard wants a kept picture printed again: it is pending as if just kept. */
  | { kind: 'asked'; shot: number }
  | { kind: 'healed' };

export type KeepSaid = { kind: 'kept' } | { kind: 'failed'; why: string };
export type RecallSaid = { kind: 'recalled'; frame: Frame; about: About } | { kind: 'failed'; why: string };

/** Every `heard` is called once, only after the step is durable (write, fsync, rename, fsync of the folder). */
export interface Album {
  open(heard: (said: AlbumSaid) => void): Undo;
  keep(shot: number, frame: Frame, about: About, heard: (said: KeepSaid) => void): void;
  mark(shot: number, mark: PrintMark, heard: (said: KeepSaid) => void): void;
  /** The printed dots, kept beside the frame; not waited for by anybody. */
  keepDots(shot: number, dots: Dots): void;
  /** A frame that is no longer in memory. */
  recall(shot: number, heard: (said: RecallSaid) => void): Undo;
  /** Paper that moved, for the roll's account, in millimetres; `newRoll` starts it over. */
  paperUsed(mm: number, newRoll?: boolean): void;
}
