import type { AlbumSaid } from '../parts/album.ts';
import type { Clock, Inlet, PartName } from '../parts/clock.ts';
import type { Dots } from '../parts/darkroom.ts';
import type { PrinterSaid } from '../parts/printer.ts';
import type { Rig } from '../parts/rig.ts';
import type { Frame } from '../parts/webcam.ts';

/** What a recording keeps of an input, ready for JSON: short, and without pictures, which are named by digest. */
export type Said = Record<string, unknown>;

export interface Digests {
  frame(frame: Frame): string;
  dots(dots: Dots): string;
}

const saidOfPrinter = (said: PrinterSaid): Said =>
  said.kind === 'bytes' ? { kind: 'bytes', hex: Buffer.from(said.bytes).toString('hex') } : { ...said };

const saidOfFrame = ({ data: _, ...about }: Frame, digest: string): Said => ({ kind: 'frame', ...about, digest });

/** Takes everything that the parts of a rig say through one door, so that it is stamped and recorded there. */
export const throughInlet = (rig: Rig, { take }: Inlet, digests: Digests): Rig => {
  /** A listener whose every call goes through the door. */
  const through =
    <T extends object>(part: PartName, heard: (said: T) => void, saidOf: (said: T) => Said = said => ({ ...said })) =>
    (said: T) =>
      take(part, saidOf(said), () => heard(said));
  const { shutter, webcam, darkroom, printer, album } = rig;
  return {
    ...rig,
    button: { listen: heard => rig.button.listen(through('button', heard)) },
    shutter: shutter.listen
      ? {
          energise: () => shutter.energise(),
          release: () => shutter.release(),
          listen: heard => shutter.listen?.(through('shutter', heard)) ?? (() => {}),
        }
      : shutter,
    webcam: {
      open: heard => webcam.open(through('webcam', heard)),
      watch: heard => webcam.watch(through('webcam', heard, frame => saidOfFrame(frame, digests.frame(frame)))),
    },
    darkroom: {
      develop: (frame, caption, heard) =>
        darkroom.develop(
          frame,
          caption,
          through('darkroom', heard, said =>
            said.kind === 'failed'
              ? { ...said, shot: caption.shot }
              : {
                  kind: 'developed',
                  shot: caption.shot,
                  heightDots: said.dots.heightDots,
                  digest: digests.dots(said.dots),
                },
          ),
        ),
    },
    printer: {
      open: heard => printer.open(through('printer', heard, saidOfPrinter)),
      write: bytes => printer.write(bytes),
      discard: () => printer.discard(),
    },
    album: {
      ...album,
      open: heard => album.open(through<AlbumSaid>('album', heard)),
      keep: (shot, frame, about, heard) =>
        album.keep(
          shot,
          frame,
          about,
          through('album', heard, said => ({ ...said, shot })),
        ),
      mark: (shot, mark, heard) =>
        album.mark(
          shot,
          mark,
          through('album', heard, said => ({
            ...said,
            kind: said.kind === 'kept' ? 'marked' : 'not-marked',
            shot,
            mark,
          })),
        ),
      recall: (shot, heard) =>
        album.recall(
          shot,
          through('album', heard, said =>
            said.kind === 'failed'
              ? { kind: 'not-recalled', why: said.why, shot }
              : { ...saidOfFrame(said.frame, digests.frame(said.frame)), kind: 'recalled', shot, about: said.about },
          ),
        ),
    },
    supply: { listen: heard => rig.supply.listen(through('supply', heard)) },
  };
};

export type Sink = (atUs: number, part: PartName, said: Said) => void;

/** The door of a virtual rig: its clock stands where the input comes, so there is nothing to stamp anew. */
export const createVirtualInlet = (clock: Clock, sink: Sink): Inlet => ({
  take(part, said, deliver) {
    sink(clock.nowUs(), part, said);
    deliver();
  },
});
