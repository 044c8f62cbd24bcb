import type { Clock, Undo } from '../../src/parts/clock.ts';
import type { PrinterSaid } from '../../src/parts/printer.ts';

/** The host's side of the plug: who listens, and whether there is anything to listen to. */
export interface Link {
  readonly found: boolean;
  readonly plugged: boolean;
  open(heard: (said: PrinterSaid) => void): void;
  /** Only who opened it closes it; says whether he did. */
  close(heard?: (said: PrinterSaid) => void): boolean;
  plug(on: boolean): void;
  /** Looks for the printer after a delay, and says what there is. */
  find(delayUs: number): void;
  lose(why: string): void;
  /** Keeps a word until `flush`: nothing is said in the midst of a reckoning. `holds`: whether it is still true then. */
  keep(said: PrinterSaid, holds?: () => boolean): void;
  say(said: PrinterSaid): void;
  /** Says what was kept; who is inside a call to the port hears it at the next moment. */
  flush(insideCall: boolean): void;
  forget(): void;
}

export const createLink = (clock: Clock, present: () => boolean, onFound: () => void): Link => {
  let heardBy: ((said: PrinterSaid) => void) | null = null;
  let stopLooking: Undo = () => {};
  let plugged = true;
  let found = false;
  let kept: { said: PrinterSaid; holds?: () => boolean }[] = [];

  const say = (said: PrinterSaid) => {
    if (found) heardBy?.(said);
  };
  const flush = () => {
    for (let next = kept.shift(); next; next = kept.shift()) if (next.holds?.() !== false) say(next.said);
  };
  return {
    get found() {
      return found;
    },
    get plugged() {
      return plugged;
    },
    open(heard) {
      heardBy = heard;
    },
    close(heard) {
      if (heard && heard !== heardBy) return false;
      stopLooking();
      heardBy = null;
      found = false;
      kept = [];
      return true;
    },
    plug(on) {
      plugged = on;
    },
    find(delayUs) {
      stopLooking();
      if (!heardBy) return;
      stopLooking = clock.after(delayUs, () => {
        found = plugged && present();
        if (!found) return heardBy?.({ kind: 'lost', why: 'no printer is plugged in' });
        say({ kind: 'found' });
        onFound();
      });
    },
    lose(why) {
      kept = [];
      if (!found) return;
      found = false;
      const heard = heardBy;
      clock.after(0, () => heard === heardBy && heard?.({ kind: 'lost', why }));
    },
    keep: (said, holds) => void kept.push({ said, holds }),
    say,
    flush(insideCall) {
      if (kept.length === 0) return;
      if (insideCall) clock.after(0, flush);
      else flush();
    },
    forget() {
      kept = [];
    },
  };
};
