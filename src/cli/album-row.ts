import { type PictureFound, readFrame, type Shelves, stateOnPaper } from '../album/browse.ts';
import type { FrameFile } from '../album/frame-file.ts';
import { shotName } from '../album/layout.ts';
import type { Profile } from '../config/profile.ts';
import type { Config } from '../config/schema.ts';
import { pictureOnPaperMm } from '../print/imprint.ts';
import { createRoll } from '../roll/roll.ts';
import { counted } from './counted.ts';

/** When a picture was taken, in universal time. */
export const timeOf = (takenAtMs: number | null): string =>
  takenAtMs === null ? 'time not known' : new Date(takenAtMs).toISOString().replace('T', ' ').slice(0, 19);

interface Listed {
  shot: number;
  takenAt: string | null;
  format: string | null;
  widthPx: number | null;
  heightPx: number | null;
  pressToFrameUs: number | null;
  onPaper: string;
  /** What is wrong with it, or null. */
  damage: string | null;
}

/** A picture as `list --json` and `show` give it, and its file where it can be read. */
export const listed = (shelves: Shelves, found: PictureFound): { row: Listed; file: FrameFile | null } => {
  const { shot } = found;
  const onPaper = stateOnPaper(shelves, shot);
  const read = readFrame(shelves, found);
  if (read.kind === 'damaged') {
    const nothing = { takenAt: null, format: null, widthPx: null, heightPx: null, pressToFrameUs: null };
    return { row: { shot, ...nothing, onPaper, damage: read.why }, file: null };
  }
  const { frame, about } = read.file;
  const takenAt = about.takenAtMs === null ? null : new Date(about.takenAtMs).toISOString();
  const { widthPx, heightPx } = frame;
  const row = {
    shot,
    takenAt,
    format: read.file.sentAs,
    widthPx,
    heightPx,
    pressToFrameUs: about.pressToFrameUs,
    onPaper,
    damage: null,
  };
  return { row, file: read.file };
};

export const lineOf = ({ row, file }: ReturnType<typeof listed>): string =>
  file === null
    ? `${shotName(row.shot)}  damaged: ${row.damage}`
    : `${shotName(row.shot)}  ${timeOf(file.about.takenAtMs).padEnd(19)}  ${row.widthPx} × ${row.heightPx}  ${row.onPaper}`;

/** What the journal's account leaves of the roll, in words; nothing where there is no account. */
export const paperLeft = ({ journal }: Shelves, config: Config, profile: Profile): string => {
  if (journal === null) return '';
  const roll = createRoll(config.printer, journal.account.paperUsedMm);
  const pictures = roll.picturesLeft(pictureOnPaperMm(profile, config));
  return `${(roll.leftMm() / 1000).toFixed(2)} m of paper left by the account, ${counted(pictures, 'picture')}\n`;
};
