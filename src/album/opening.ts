import type { Account } from './account.ts';
import { emptyAccount, readJournal } from './account.ts';
import { aboutText, frameFileNames, readFrameFile } from './frame-file.ts';
import {
  journalPath,
  longestFrameBytes,
  longestJournalBytes,
  numbersIn,
  picturePath,
  pictures,
  shelfName,
  shelfOf,
} from './layout.ts';
import { type Deed, type DiskSteps, DiskTrouble } from './steps.ts';

/** A frame's file in the folder of a picture. */
export interface Place {
  shot: number;
  name: string;
}

export interface Found {
  account: Account;
  /** There is no journal to trust: it must be durable before the first picture is. */
  fresh: boolean;
  /** Pictures of which the journal says nothing, oldest first. */
  caught: (Place & { about: string })[];
  /** Empty or torn frames: places for the next pictures. */
  spares: Place[];
  /** What was damaged, in words. */
  damage: string[];
}

/** The file, null where there is none, or why it can't be read. */
function* readBytes(steps: DiskSteps, path: string, atMostBytes: number): Deed<Uint8Array | null | DiskTrouble> {
  try {
    return yield* steps.read(path, atMostBytes);
  } catch (error) {
    if (!(error instanceof DiskTrouble)) throw error;
    return error.fault === 'missing' ? null : error;
  }
}

/** Numbers of pictures from `from` upwards, least first. */
function* numbersFrom(steps: DiskSteps, from: number): Deed<number[]> {
  const numbers: number[] = [];
  for (const shelf of numbersIn(yield* steps.list(pictures))) {
    if (shelf < shelfOf(from)) continue;
    const shots = numbersIn(yield* steps.list(`${pictures}/${shelfName(shelf)}`));
    numbers.push(...shots.filter(shot => shot >= from));
  }
  return numbers;
}

/** The highest number that any picture has; 0 where there is none. */
function* highestNumber(steps: DiskSteps): Deed<number> {
  for (const shelf of numbersIn(yield* steps.list(pictures)).reverse()) {
    const highest = numbersIn(yield* steps.list(`${pictures}/${shelfName(shelf)}`)).at(-1);
    if (highest !== undefined) return highest;
  }
  return 0;
}

/**
 * Reads what the last life left: the journal since it was last put in short, and the pictures with higher numbers than
 * it knows. Takes time for what is pending, not for what is stored. A journal or a picture just caught that can't be
 * read is a `DiskTrouble`, which may pass; at the last try it counts as lost.
 */
export function* findAlbum(steps: DiskSteps, { lastTry }: { lastTry: boolean }): Deed<Found> {
  const damage: string[] = [];
  const caught: Found['caught'] = [];
  const spares: Place[] = [];
  let account: Account = emptyAccount();
  let fresh = true;
  let doubtful: number[] = [];

  const bytes = yield* readBytes(steps, journalPath, longestJournalBytes);
  if (bytes instanceof DiskTrouble) {
    if (!lastTry && bytes.fault !== 'too-big') throw bytes;
    damage.push(`the journal can’t be read: ${bytes.message}`);
  } else if (bytes) {
    const read = readJournal(bytes);
    account = read.account;
    fresh = read.goodLines === 0;
    doubtful = read.unknown;
    if (read.damagedLines > 0) damage.push(`${read.damagedLines} damaged lines of the journal were dropped`);
  }

  if (fresh) {
    const highest = yield* highestNumber(steps);
    if (highest > 0 || bytes !== null)
      damage.push('there is no journal to trust: which pictures wait for paper isn’t known');
    account.nextShot = Math.max(account.nextShot, highest + 1);
    return { account, fresh, caught, spares, damage };
  }
  for (const shot of [...doubtful, ...(yield* numbersFrom(steps, account.nextShot))])
    for (const name of yield* steps.list(picturePath(shot))) {
      if (!frameFileNames.includes(name)) continue;
      const frame = yield* readBytes(steps, `${picturePath(shot)}/${name}`, longestFrameBytes);
      if (frame instanceof DiskTrouble && frame.fault !== 'too-big' && !lastTry) throw frame;
      const read = frame instanceof Uint8Array ? readFrameFile(frame) : null;
      if (read?.kind === 'read' && read.file.shot === shot) caught.push({ shot, name, about: aboutText(read.file) });
      else if (read?.kind === 'read' || frame instanceof DiskTrouble) {
        // Nothing that may be somebody's picture is overwritten.
        damage.push(`picture ${shot} can’t be read: ${frame instanceof DiskTrouble ? frame.message : 'it is another'}`);
        account.nextShot = Math.max(account.nextShot, shot + 1);
      } else spares.push({ shot, name });
    }
  return { account, fresh, caught, spares, damage };
}
