import { picturePath, pictures, shelfOf, shelfPath } from './layout.ts';
import { clearAway, removeIfThere } from './room.ts';
import { type Deed, type DiskSteps, DiskTrouble } from './steps.ts';

/** So many pictures can be caught in a row before a place must be made while somebody waits. */
const placesAhead = 3;

/**
 * The folders of the next pictures, made and durable before those are taken: keeping a picture is then one write into a
 * file that is there, instead of four steps that each wait for the card.
 */
export interface Places {
  /** Puts the frame of a picture where it belongs; durable when it returns. */
  write(shot: number, name: string, bytes: Uint8Array): Deed;
  /** The picture `shot` was tried: lower places stay empty, and its own is given up unless it was kept. */
  passed(shot: number, kept: boolean): void;
  /** Makes or clears away one place, if there is need; says whether there was. */
  tidyOne(nextShot: number, name: string): Deed<boolean>;
}

/**
 * Places that an earlier life made are made once more before they count as ready: their names may be there to read and
 * not be durable.
 */
export const createPlaces = (urgent: DiskSteps, idle: DiskSteps, found: readonly number[]): Places => {
  const ready = new Map<number, string>();
  const unused = new Set<number>(found);
  const stale = new Set<number>();
  let lastTried = 0;
  /** Empty frames of another format beside a picture. */
  const leftovers: string[] = [];
  const shelves = new Set<number>();

  /** `inFile` makes the frame's file, between the folder and its durable name. */
  function* make(steps: DiskSteps, shot: number, inFile: Deed): Deed {
    if (!shelves.has(shelfOf(shot))) {
      yield* steps.makeFolder(pictures);
      yield* steps.syncFolder('');
      yield* steps.makeFolder(shelfPath(shot));
      yield* steps.syncFolder(pictures);
      shelves.add(shelfOf(shot));
    }
    yield* steps.makeFolder(picturePath(shot));
    yield* inFile;
    yield* steps.syncFolder(picturePath(shot));
    yield* steps.syncFolder(shelfPath(shot));
  }
  return {
    *write(shot, name, bytes) {
      lastTried = shot;
      const path = `${picturePath(shot)}/${name}`;
      const there = ready.get(shot);
      if (there !== undefined && there !== name) leftovers.push(`${picturePath(shot)}/${there}`);
      if (there === name)
        try {
          return yield* urgent.put(path, bytes);
        } catch (error) {
          // Somebody has cleared the album's folder away.
          if (!(error instanceof DiskTrouble) || error.fault !== 'missing') throw error;
          shelves.clear();
        }
      yield* make(urgent, shot, urgent.put(path, bytes));
    },
    passed(shot, kept) {
      for (const place of unused)
        if (place <= shot) {
          unused.delete(place);
          ready.delete(place);
          if (place < shot) stale.add(place);
        }
      if (kept) stale.delete(shot);
      else stale.add(shot);
    },
    *tidyOne(nextShot, name) {
      for (let shot = nextShot; shot < nextShot + placesAhead; shot++) {
        if (ready.get(shot) === name) continue;
        // Adding nothing makes the file and can't harm a picture that was written meanwhile.
        yield* make(idle, shot, idle.append(`${picturePath(shot)}/${name}`, new Uint8Array(0)));
        // Its picture may have been taken while the place was being made: then it is no place any more.
        if (shot > lastTried) {
          ready.set(shot, name);
          unused.add(shot);
        }
        return true;
      }
      const leftover = leftovers.shift();
      if (leftover !== undefined) {
        yield* removeIfThere(idle, leftover);
        return true;
      }
      for (const shot of stale) {
        yield* clearAway(idle, shot);
        stale.delete(shot);
        return true;
      }
      return false;
    },
  };
};
