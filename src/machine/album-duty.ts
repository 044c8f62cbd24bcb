import type { PrintMark } from '../parts/album.ts';
import type { Context } from './context.ts';
import type { CameraEvent } from './events.ts';
import type { Kit } from './kit.ts';
import { type World, wordsOf } from './world.ts';

interface Args {
  context: Context;
  self: { send(event: CameraEvent): void; getSnapshot(): { status: string } };
}

/**
 * What the machine asks of the album. These requests can't be undone and their answers count even after the state that
 * asked was left, so they are actions whose answers come to the machine as a whole, not actors of one state.
 */
export const albumDuty = (kit: Kit, { rig: { album }, memory }: World) => {
  const oneMoreOwed = kit.assign({ owed: ({ context }) => context.owed + 1 });

  /** An album may still answer when the camera has closed. */
  const tell = ({ self }: Args, event: CameraEvent) => {
    if (self.getSnapshot().status === 'active') self.send(event);
  };
  const keep = (args: Args) => {
    const { taking } = args.context;
    const frame = memory.frames.get(taking.shot);
    if (!frame) return;
    const { shot, takenAtMs, pressedUs } = taking;
    const fail = (why: string) => tell(args, { type: 'keep.failed', shot, why });
    try {
      album.keep(shot, frame, { takenAtMs, pressToFrameUs: frame.exposureEndUs - pressedUs }, said =>
        said.kind === 'kept' ? tell(args, { type: 'keep.done', shot }) : fail(said.why),
      );
    } catch (error) {
      fail(wordsOf(error));
    }
  };

  const mark = (mark: PrintMark) => (args: Args) => {
    const { shot } = args.context.queue[0];
    const fail = (why: string) => tell(args, { type: 'mark.failed', shot, mark, why });
    try {
      album.mark(shot, mark, said =>
        said.kind === 'kept' ? tell(args, { type: 'mark.done', shot, mark }) : fail(said.why),
      );
    } catch (error) {
      fail(wordsOf(error));
    }
  };

  return {
    keep: [oneMoreOwed, keep],
    markClosing: [oneMoreOwed, mark('closing')],
    markPrinted: [oneMoreOwed, mark('printed')],
  };
};
