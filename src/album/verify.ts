import { readFileSync } from 'node:fs';
import { findPicture, readFrame, type Shelves } from './browse.ts';
import { aboutText, type FrameFile } from './frame-file.ts';
import { readGreyPng } from './png.ts';

/** Something of the album that isn't as it was written. */
export interface Damage {
  /** Null for the journal. */
  shot: number | null;
  what: string;
  /** Whether the picture itself can't be had any more. */
  lost: boolean;
}

const text = (path: string): string | null => {
  try {
    return readFileSync(path, 'utf8');
  } catch {
    return null;
  }
};

const besideDamage = (folder: string, names: readonly string[], file: FrameFile): Damage[] => {
  const damages: Damage[] = [];
  const { shot } = file;
  const say = (what: string) => damages.push({ shot, what, lost: false });
  if (!names.includes('about.json')) say('about.json is missing; the frame says the same of itself');
  else if (text(`${folder}/about.json`) !== aboutText(file)) say('about.json isn’t as it was written');
  if (names.includes('dots.png')) {
    try {
      const read = readGreyPng(readFileSync(`${folder}/dots.png`));
      if (read.kind === 'damaged') say(`dots.png: ${read.why}`);
    } catch (error) {
      say(`dots.png can’t be read: ${(error as Error).message}`);
    }
  }
  return damages;
};

/** Every damage to one picture; none for a place that waits for one. */
export const verifyPicture = (shelves: Shelves, shot: number): Damage[] => {
  const { folder, journal } = shelves;
  if (journal?.account.leaving === shot) return [];
  const found = findPicture(shelves, shot);
  if (!found) return [];
  // What the journal doesn't know yet is being written now, or was never acknowledged.
  if (journal && shot >= journal.account.nextShot) return [];
  const read = readFrame(shelves, found);
  if (read.kind === 'damaged') return [{ shot, what: read.why, lost: true }];
  return besideDamage(`${folder}/${found.place}`, found.names, read.file);
};

/** The journal, and pictures that it waits for and that aren't there. */
export const verifyJournal = (shelves: Shelves): Damage[] => {
  const { journal, shots } = shelves;
  if (!journal) return [{ shot: null, what: 'there is no journal', lost: false }];
  const damages: Damage[] = [];
  if (journal.damagedLines > 0)
    damages.push({ shot: null, what: `${journal.damagedLines} lines of the journal are damaged`, lost: false });
  const there = new Set(shots);
  for (const [shot, mark] of journal.account.pending) {
    const isThere = there.has(shot) && findPicture(shelves, shot) !== null;
    if (!isThere && mark === 'kept') damages.push({ shot, what: 'it waits for paper, and is missing', lost: true });
  }
  return damages;
};
