import { crc32 } from 'node:zlib';
import type { Inlet, PartName, Undo } from '../parts/clock.ts';
import type { Rig } from '../parts/rig.ts';
import { crcText } from './digest.ts';

/** What a part said, as the recorder gets it: bytes, dots and frames still whole. */
export type Said = Record<string, unknown> & { [unheard]?: () => boolean };
export type Sink = (atUs: number, part: PartName, said: Said) => void;

/** Whether an input that waited for its turn is heard by nobody any more: then it isn't an input. */
export const unheard = Symbol('unheard');

/** A call in words, for telling it from others of the same moment: `mark 12 closing`. */
export const callOf = (name: string, what: readonly unknown[]): string =>
  [name, ...what.filter(one => typeof one === 'number' || typeof one === 'string')].join(' ');

const wordsOf = (error: unknown): string => (error instanceof Error ? error.message : String(error));

/**
 * A rig whose parts are heard through one door. Everything that reaches the machine from outside goes through it: what
 * parts say and answer, and what they throw inside a call, which is noted at the moment of the call.
 */
export const throughInlet = (rig: Rig, inlet: Inlet): Rig => {
  const { button, shutter, webcam, darkroom, printer, lamp, motor, album, supply } = rig;

  const noting =
    <A extends unknown[], R>(part: PartName, name: string, act: (...what: A) => R) =>
    (...what: A): R => {
      try {
        return act(...what);
      } catch (error) {
        inlet.note?.(part, { kind: 'threw', call: callOf(name, what), why: wordsOf(error) });
        throw error;
      }
    };
  /** Listens until undone; what comes later, or still waits at the door then, is lost. */
  const hearing = <T>(
    part: PartName,
    start: (heard: (said: T) => void) => Undo | undefined,
    saidOf: (said: T) => Said,
    heard: (said: T) => void,
    stampOf?: (said: T) => number | undefined,
    /** For what may be out of date once what was due before has been done: whether it is. */
    outOfDate?: (said: T) => () => boolean,
  ): Undo => {
    let over = false;
    const undo = start(said => {
      if (over) return;
      const input = saidOf(said);
      const isOld = outOfDate?.(said);
      const lost = () => over || isOld?.() === true;
      input[unheard] = lost;
      inlet.take(part, input, () => lost() || heard(said), stampOf?.(said));
    });
    return () => {
      over = true;
      undo?.();
    };
  };
  const whole = <T extends object>(said: T): Said => ({ ...said }) as Said;

  let sentBytes = 0;
  let sentCrc = 0;
  /** What had been written by then: so a replay finds where its bytes went another way. */
  const drained = (): Said => ({ kind: 'drained', bytes: sentBytes, digest: crcText(sentCrc) });

  return {
    clock: rig.clock,
    // A finger that let go during a stall did so before what was due since; a press is answered from when it is heard.
    button: {
      listen: noting('button', 'listen', heard =>
        hearing('button', button.listen, whole, heard, ({ down, atUs }) => (down ? undefined : atUs)),
      ),
    },
    shutter: {
      energise: noting('shutter', 'energise', shutter.energise),
      release: noting('shutter', 'release', shutter.release),
      ...(shutter.listen && {
        listen: noting('shutter', 'listen', heard => hearing('shutter', one => shutter.listen?.(one), whole, heard)),
      }),
    },
    webcam: {
      open: noting('webcam', 'open', heard => hearing('webcam', webcam.open, whole, heard)),
      watch: noting('webcam', 'watch', heard =>
        hearing('webcam', webcam.watch, frame => ({ kind: 'frame', frame }), heard),
      ),
    },
    darkroom: {
      develop: noting('darkroom', 'develop', (frame, caption, heard) =>
        hearing(
          'darkroom',
          one => darkroom.develop(frame, caption, one),
          said => ({ shot: caption.shot, ...said }),
          heard,
        ),
      ),
    },
    printer: {
      open: noting('printer', 'open', heard =>
        hearing(
          'printer',
          printer.open,
          said => (said.kind === 'drained' ? drained() : { ...said }),
          heard,
          undefined,
          ({ kind }) => {
            // Heard after a stall it comes behind the timers that were due, and they may have written: those bytes haven't left.
            const byThenBytes = sentBytes;
            return () => kind === 'drained' && sentBytes !== byThenBytes;
          },
        ),
      ),
      write: noting('printer', 'write', bytes => {
        sentBytes += bytes.length;
        sentCrc = crc32(bytes, sentCrc);
        printer.write(bytes);
      }),
      discard: noting('printer', 'discard', printer.discard),
    },
    lamp: { show: noting('lamp', 'show', lamp.show) },
    motor: { drive: noting('motor', 'drive', motor.drive) },
    album: {
      open: noting('album', 'open', heard => hearing('album', album.open, whole, heard)),
      keep: noting('album', 'keep', (shot, frame, about, heard) =>
        album.keep(shot, frame, about, said =>
          inlet.take('album', { ...said, kind: said.kind === 'kept' ? 'kept' : 'not-kept', shot }, () => heard(said)),
        ),
      ),
      mark: noting('album', 'mark', (shot, mark, heard) =>
        album.mark(shot, mark, said =>
          inlet.take('album', { ...said, kind: said.kind === 'kept' ? 'marked' : 'not-marked', shot, mark }, () =>
            heard(said),
          ),
        ),
      ),
      keepDots: noting('album', 'keepDots', album.keepDots),
      recall: noting('album', 'recall', (shot, heard) =>
        hearing(
          'album',
          one => album.recall(shot, one),
          said => ({ ...said, kind: said.kind === 'recalled' ? 'recalled' : 'not-recalled', shot }),
          heard,
        ),
      ),
      paperUsed: noting('album', 'paperUsed', album.paperUsed),
    },
    supply: { listen: noting('supply', 'listen', heard => hearing('supply', supply.listen, whole, heard)) },
  };
};
