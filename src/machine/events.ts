import type { Pending, PrintMark } from '../parts/album.ts';
import type { Dots } from '../parts/darkroom.ts';
import type { PrinterCondition } from '../parts/engine.ts';
import type { Frame } from '../parts/webcam.ts';

/** What may be asked of the camera from outside its body: by a signal, a command, or a gesture at the button. */
export type ServiceInput =
  | { type: 'service.jog'; mm: number }
  | { type: 'service.load' }
  /** Loading is over: count a new roll. */
  | { type: 'service.loaded' }
  | { type: 'service.new-roll' }
  /** Print the last picture once more. */
  | { type: 'service.reprint' }
  | { type: 'service.close'; why: string };

/** What parts say, whenever they like. */
type PartInput =
  | { type: 'contact.made'; atUs: number }
  | { type: 'contact.broken'; atUs: number }
  | { type: 'webcam.ready' }
  | { type: 'webcam.lost'; why: string }
  | { type: 'album.opened'; pending: readonly Pending[]; nextShot: number; paperUsedMm: number }
  | { type: 'album.trouble'; why: string }
  | { type: 'album.healed' }
  | { type: 'album.asked'; shot: number }
  | { type: 'printer.condition'; condition: PrinterCondition }
  | { type: 'supply.voltage'; volts: number; low: boolean };

/** Answers to what the machine asked for; `atUs` where a time is counted from it. */
type Answer =
  | { type: 'coil.on'; atUs: number }
  | { type: 'coil.off'; onUs: number; atUs: number }
  /** `onUs` where the coil was energised and only then failed. */
  | { type: 'coil.failed'; why: string; onUs: number | null }
  | { type: 'frame.fit'; frame: Frame }
  | { type: 'keep.done'; shot: number }
  | { type: 'keep.failed'; shot: number; why: string }
  | { type: 'mark.done'; shot: number; mark: PrintMark }
  | { type: 'mark.failed'; shot: number; mark: PrintMark; why: string }
  | { type: 'recall.done'; frame: Frame; takenAtMs: number | null }
  | { type: 'recall.failed'; why: string }
  | { type: 'develop.done'; dots: Dots }
  | { type: 'develop.failed'; why: string }
  | { type: 'body.begun' }
  | { type: 'body.done'; paperLines: number }
  | { type: 'body.stopped'; paperLines: number }
  | { type: 'tail.done'; paperLines: number }
  | { type: 'tail.stopped'; paperLines: number }
  | { type: 'feed.done'; paperLines: number }
  | { type: 'feed.stopped'; paperLines: number };

/** What one region tells the others. */
type Raised =
  /** The contact was still: `pressedUs` is its first edge, `settledUs` how long it took from there to be still. */
  | { type: 'PRESS'; pressedUs: number; settledUs: number }
  | { type: 'DOUBLE'; pressedUs: number; settledUs: number }
  | { type: 'HOLD' }
  | { type: 'RELEASE' }
  /** A picture is wanted. */
  | { type: 'TAKE'; pressedUs: number; settledUs: number }
  | { type: 'note.refused' }
  | { type: 'note.missed' }
  | { type: 'note.unkept' };

export type CameraEvent = ServiceInput | PartInput | Answer | Raised;
