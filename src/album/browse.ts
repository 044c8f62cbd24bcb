import { existsSync, readdirSync, readFileSync, statSync } from 'node:fs';
import { Fault } from '../parts/fault.ts';
import { type JournalRead, readJournal } from './account.ts';
import { type FrameFileRead, frameFileNames, readFrameFile } from './frame-file.ts';
import { journalPath, longestFrameBytes, longestJournalBytes, numbersIn, picturePath, pictures } from './layout.ts';

/** An album as somebody at the keyboard sees it, also while the camera writes to it. */
export interface Shelves {
  folder: string;
  /** Null where there is no journal. */
  journal: JournalRead | null;
  /** Numbers of all folders, least first; places that wait for a picture are among them. */
  shots: number[];
}

export type StateOnPaper = 'waits' | 'tail is missing' | 'printed';

export interface PictureFound {
  shot: number;
  /** Folder of this picture, from the album's own. */
  place: string;
  names: string[];
  /** Name of the frame's file, or null where there is none. */
  frameName: string | null;
  frameBytes: number;
}

const damaged = (why: string): FrameFileRead => ({ kind: 'damaged', why });

const wordsOf = (error: unknown): string => (error as Error).message;

export const openShelves = (folder: string): Shelves => {
  if (!existsSync(`${folder}/${pictures}`))
    throw new Fault(
      'unreadable',
      `there is no album in ${folder}`,
      'name its folder by --album, or the camera’s --config',
    );
  try {
    const shelves = numbersIn(readdirSync(`${folder}/${pictures}`)).map(shelf => String(shelf).padStart(4, '0'));
    const shots = shelves.flatMap(shelf => numbersIn(readdirSync(`${folder}/${pictures}/${shelf}`)));
    const path = `${folder}/${journalPath}`;
    const hasJournal = existsSync(path) && statSync(path).size <= longestJournalBytes;
    return { folder, journal: hasJournal ? readJournal(readFileSync(path)) : null, shots };
  } catch (error) {
    throw new Fault(
      'unreadable',
      `the album can’t be read: ${wordsOf(error)}`,
      'try it as root or as the camera’s user',
    );
  }
};

/** What lies in a picture's folder, or null for a place that waits for a picture or was passed over. */
export const findPicture = ({ folder }: Shelves, shot: number): PictureFound | null => {
  const place = picturePath(shot);
  if (!existsSync(`${folder}/${place}`)) return null;
  const names = readdirSync(`${folder}/${place}`);
  const frames = names
    .filter(name => frameFileNames.includes(name))
    .map(name => ({ name, bytes: statSync(`${folder}/${place}/${name}`).size }))
    .sort((a, b) => b.bytes - a.bytes);
  const [frame] = frames;
  // Empty beside its `about.json`, a frame is damaged; empty alone, it waits for a picture or was passed over.
  if (frame?.bytes === 0 && !names.includes('about.json') && !names.includes('dots.png')) return null;
  return { shot, place, names, frameName: frame?.name ?? null, frameBytes: frame?.bytes ?? 0 };
};

/** The frame, or in words why there is none. */
export const readFrame = ({ folder }: Shelves, { place, frameName, frameBytes, shot }: PictureFound): FrameFileRead => {
  if (frameName === null) return damaged('the frame is missing');
  if (frameBytes > longestFrameBytes) return damaged(`${frameName} is longer than any frame`);
  let read: FrameFileRead;
  try {
    read = readFrameFile(readFileSync(`${folder}/${place}/${frameName}`));
  } catch (error) {
    return damaged(`${frameName} can’t be read: ${wordsOf(error)}`);
  }
  if (read.kind === 'damaged') return damaged(`${frameName}: ${read.why}`);
  return read.file.shot === shot ? read : damaged(`${frameName} is that of picture ${read.file.shot}`);
};

/** What the journal says of a picture; one that it doesn't know yet was just taken. */
export const stateOnPaper = ({ journal }: Shelves, shot: number): StateOnPaper => {
  const mark = journal?.account.pending.get(shot);
  if (mark === 'closing') return 'tail is missing';
  return mark === 'kept' || (journal !== null && shot >= journal.account.nextShot) ? 'waits' : 'printed';
};
