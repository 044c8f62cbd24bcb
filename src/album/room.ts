import type { Journal } from './journal.ts';
import { numbersIn, picturePath, pictures, shelfName, shelfOf, shelfPath } from './layout.ts';
import { type Deed, type DiskSteps, DiskTrouble } from './steps.ts';

export function* removeIfThere(steps: DiskSteps, path: string): Deed {
  try {
    yield* steps.remove(path);
  } catch (error) {
    if (!(error instanceof DiskTrouble) || error.fault !== 'missing') throw error;
  }
}

/** Removes the folder of a picture with all that is in it, or what is left of it. */
export function* clearAway(steps: DiskSteps, shot: number): Deed {
  const place = picturePath(shot);
  for (const name of yield* steps.list(place)) yield* removeIfThere(steps, `${place}/${name}`);
  yield* removeIfThere(steps, place);
}

/** Takes a picture out of the album. The journal says so first, so that a cut in between leaves no damaged picture. */
function* removePicture(steps: DiskSteps, journal: Journal, shot: number): Deed {
  journal.enter({ kind: 'leaving', shot });
  yield* journal.flushed();
  yield* clearAway(steps, shot);
  yield* steps.syncFolder(shelfPath(shot));
}

/** The oldest picture that doesn't wait for paper; shelves that have become empty go by the way. */
function* oldestPrinted(steps: DiskSteps, journal: Journal): Deed<number | null> {
  const { pending, nextShot } = journal.account;
  for (const shelf of numbersIn(yield* steps.list(pictures))) {
    const path = `${pictures}/${shelfName(shelf)}`;
    const names = yield* steps.list(path);
    const oldest = numbersIn(names).find(shot => shot < nextShot && !pending.has(shot));
    if (oldest !== undefined) return oldest;
    if (names.length === 0 && shelf < shelfOf(nextShot)) yield* removeIfThere(steps, path);
  }
  return null;
}

/** Removes the oldest pictures until so much is free; gives what then is free, bytes. Pictures that wait for paper stay. */
export function* makeRoom(steps: DiskSteps, journal: Journal, neededBytes: number): Deed<number> {
  for (;;) {
    const freeBytes = yield* steps.freeBytes();
    if (freeBytes >= neededBytes) return freeBytes;
    const shot = yield* oldestPrinted(steps, journal);
    if (shot === null) return freeBytes;
    yield* removePicture(steps, journal, shot);
  }
}
