import type { Undo } from './clock.ts';
import type { Frame } from './webcam.ts';

/** Rows of dots, packed: most significant bit leftmost, 1 is black; `strideBytes` = ceil(widthDots / 8). */
export interface Dots {
  widthDots: number;
  heightDots: number;
  strideBytes: number;
  data: Uint8Array;
}

/** What is printed about a picture beside its dots. */
export interface Caption {
  shot: number;
  /** Wall time in milliseconds since 1970, or null where the board didn't know it. */
  takenAtMs: number | null;
}

export type DarkroomSaid = { kind: 'developed'; dots: Dots } | { kind: 'failed'; why: string };

/** Frame to dots, away from the event loop where that can be had. Says exactly one thing unless undone. */
export interface Darkroom {
  develop(frame: Frame, caption: Caption, heard: (said: DarkroomSaid) => void): Undo;
}
