import type { Dots } from '../parts/darkroom.ts';
import { writePng } from '../picture/png.ts';
import type { Account } from './account.ts';
import { aboutText, frameFileNames, readFrameFile } from './frame-file.ts';
import type { Journal } from './journal.ts';
import { longestFrameBytes, numbersIn, picturePath, wanted } from './layout.ts';
import { type Deed, type DiskSteps, DiskTrouble } from './steps.ts';

/** Dots that wait to be written; more are let go, since the frame is what counts. */
const longestDots = 8;

/** What is written about a picture when nobody waits for it. */
export interface Afterwork {
  /** `about.json`; its text is made from the frame's file where it isn't at hand. */
  about(shot: number, text: string | null): void;
  dots(shot: number, dots: Dots): void;
  /** Somebody may have asked for pictures to be printed again. */
  asks(): void;
  /** Does one piece of it; says whether there was any. */
  one(journal: Journal): Deed<boolean>;
}

const dotsPng = ({ widthDots, heightDots, strideBytes, data }: Dots): Uint8Array =>
  writePng({ widthPx: widthDots, heightPx: heightDots, bits: 1, strideBytes, data }, 1);

function* hasFrame(steps: DiskSteps, shot: number): Deed<boolean> {
  return (yield* steps.list(picturePath(shot))).some(name => frameFileNames.includes(name));
}

/** Requests in the folder `wanted`: names are numbers of pictures. Those that don't wait for paper anyway are asked for. */
function* readAsks(steps: DiskSteps, { pending, nextShot }: Account): Deed<{ names: string[]; shots: number[] }> {
  const all = yield* steps.list(wanted);
  const names = all.filter(name => numbersIn([name]).length > 0);
  const shots: number[] = [];
  for (const shot of new Set(numbersIn(names)))
    if (shot < nextShot && !pending.has(shot) && (yield* hasFrame(steps, shot))) shots.push(shot);
  return { names, shots };
}

export const createAfterwork = (steps: DiskSteps, askedFor: (shot: number) => void): Afterwork => {
  const abouts: { shot: number; text: string | null }[] = [];
  const prints: { shot: number; dots: Dots }[] = [];
  let asksWait = true;

  /** Whole or not at all; not at all where the picture itself is gone. */
  function* writeBeside(shot: number, name: string, bytes: Uint8Array): Deed {
    const place = picturePath(shot);
    try {
      yield* steps.put(`${place}/${name}.new`, bytes);
      yield* steps.rename(`${place}/${name}.new`, `${place}/${name}`);
      yield* steps.syncFolder(place);
    } catch (error) {
      if (!(error instanceof DiskTrouble) || error.fault !== 'missing') throw error;
    }
  }
  function* aboutFromFrame(shot: number): Deed<string | null> {
    const names = yield* steps.list(picturePath(shot));
    if (names.includes('about.json')) return null;
    for (const name of names.filter(one => frameFileNames.includes(one))) {
      const read = readFrameFile(yield* steps.read(`${picturePath(shot)}/${name}`, longestFrameBytes));
      if (read.kind === 'read') return aboutText(read.file);
    }
    return null;
  }
  function* writeAbout({ shot, text }: { shot: number; text: string | null }): Deed {
    const words = text ?? (yield* aboutFromFrame(shot));
    if (words !== null) yield* writeBeside(shot, 'about.json', Buffer.from(words));
  }
  function* takeAsks(journal: Journal): Deed {
    const { names, shots } = yield* readAsks(steps, journal.account);
    for (const shot of shots) journal.enter({ kind: 'again', shot });
    if (shots.length > 0) yield* journal.flushed();
    // A request goes only once the journal has it, and is answered only once it can't come back.
    for (const name of names) yield* steps.remove(`${wanted}/${name}`);
    if (names.length > 0) yield* steps.syncFolder(wanted);
    for (const shot of shots) askedFor(shot);
  }

  return {
    about(shot, text) {
      abouts.push({ shot, text });
    },
    dots(shot, dots) {
      prints.push({ shot, dots });
      if (prints.length > longestDots) prints.shift();
    },
    asks() {
      asksWait = true;
    },
    *one(journal) {
      const about = abouts.shift();
      if (about) {
        try {
          yield* writeAbout(about);
        } catch (error) {
          // Others shouldn't wait for one that fails again and again.
          abouts.push(about);
          throw error;
        }
        return true;
      }
      const print = prints.shift();
      if (print) {
        yield* writeBeside(print.shot, 'dots.png', dotsPng(print.dots));
        return true;
      }
      if (!asksWait) return false;
      asksWait = false;
      yield* takeAsks(journal);
      return true;
    },
  };
};
