import type { Pending, PrintMark } from '../parts/album.ts';
import { crc32 } from '../parts/crc32.ts';

/** One line of the journal. */
export type Entry =
  | { kind: 'kept'; shot: number }
  | { kind: PrintMark; shot: number }
  /** Somebody wants it printed once more. */
  | { kind: 'again'; shot: number }
  /** It is being removed to make room. */
  | { kind: 'leaving'; shot: number }
  /** Paper that moved, millimetres; `roll`: on a new roll. */
  | { kind: 'paper'; mm: number }
  | { kind: 'roll'; mm: number }
  /** Everything before this line, in short. */
  | {
      kind: 'sum';
      nextShot: number;
      paperUsedMm: number;
      pending: [number, 'kept' | 'closing'][];
      leaving: number | null;
    };

/** What the journal comes to. */
export interface Account {
  nextShot: number;
  paperUsedMm: number;
  pending: Map<number, 'kept' | 'closing'>;
  /** The picture that was last removed, perhaps not to the end. */
  leaving: number | null;
}

export const emptyAccount = (): Account => ({ nextShot: 1, paperUsedMm: 0, pending: new Map(), leaving: null });

const micrometres = (mm: number): number => Math.round(mm * 1000) / 1000;

export const enter = (account: Account, entry: Entry): void => {
  const { pending } = account;
  // A mark may come before the word that the picture was kept: it then stands.
  if (entry.kind === 'kept' && entry.shot < account.nextShot) return;
  if ('shot' in entry) account.nextShot = Math.max(account.nextShot, entry.shot + 1);
  switch (entry.kind) {
    case 'kept':
    case 'closing':
      pending.set(entry.shot, entry.kind);
      return;
    case 'again':
      if (!pending.has(entry.shot)) pending.set(entry.shot, 'kept');
      return;
    case 'printed':
      pending.delete(entry.shot);
      return;
    case 'leaving':
      pending.delete(entry.shot);
      account.leaving = entry.shot;
      return;
    case 'paper':
      account.paperUsedMm = micrometres(account.paperUsedMm + entry.mm);
      return;
    case 'roll':
      account.paperUsedMm = micrometres(entry.mm);
      return;
    case 'sum':
      account.nextShot = Math.max(account.nextShot, entry.nextShot);
      account.paperUsedMm = entry.paperUsedMm;
      account.pending = new Map(entry.pending);
      account.leaving = entry.leaving;
  }
};

export const sumOf = ({ nextShot, paperUsedMm, pending, leaving }: Account): Entry => ({
  kind: 'sum',
  nextShot,
  paperUsedMm,
  pending: [...pending],
  leaving,
});

/** Oldest first: numbers are given in the order of presses. */
export const pendingOf = ({ pending }: Account): Pending[] =>
  [...pending].map(([shot, mark]) => ({ shot, mark })).sort((a, b) => a.shot - b.shot);

/** Text with its CRC-32 before it, so that any damage shows. */
export const sealed = (text: string): string => `${crc32(text).toString(16).padStart(8, '0')} ${text}`;

/** The text, or null where it isn't what was sealed. */
export const unsealed = (line: string): string | null => {
  const text = line.slice(9);
  return line === sealed(text) ? text : null;
};

const isWhole = (value: unknown): value is number => Number.isSafeInteger(value) && (value as number) >= 0;

/** An entry out of sealed text; null for what this program never wrote (a later one's journal, say). */
const entryOf = (text: string): Entry | null => {
  let entry: Entry;
  try {
    entry = JSON.parse(text);
  } catch {
    return null;
  }
  switch (entry?.kind) {
    case 'kept':
    case 'closing':
    case 'printed':
    case 'again':
    case 'leaving':
      return isWhole(entry.shot) ? entry : null;
    case 'paper':
    case 'roll':
      return Number.isFinite(entry.mm) ? entry : null;
    case 'sum': {
      const pendingIsRight =
        Array.isArray(entry.pending) &&
        entry.pending.every(one => isWhole(one?.[0]) && (one[1] === 'kept' || one[1] === 'closing'));
      return isWhole(entry.nextShot) &&
        Number.isFinite(entry.paperUsedMm) &&
        pendingIsRight &&
        (entry.leaving === null || isWhole(entry.leaving))
        ? entry
        : null;
    }
    default:
      return null;
  }
};

export const lineOf = (entry: Entry): string => `${sealed(JSON.stringify(entry))}\n`;

export interface JournalRead {
  account: Account;
  /** Lines that can be trusted, and lines that can't: none when the journal is whole. */
  goodLines: number;
  damagedLines: number;
  /** Numbers, from the last sum's next one on, of which no good line speaks: a damaged one may have. */
  unknown: number[];
}

/** Reads what can be trusted: a damaged line is dropped, the lines around it stand for themselves. */
export const readJournal = (bytes: Uint8Array): JournalRead => {
  const account = emptyAccount();
  const known = new Set<number>();
  let fromShot: number | null = null;
  let goodLines = 0;
  let damagedLines = 0;
  // Latin-1: each byte stays a character, so that damage can't spread over its neighbours. Lines are ASCII.
  const lines = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.length).toString('latin1').split('\n');
  const rest = lines.pop() ?? '';
  for (const line of lines) {
    const text = unsealed(line);
    const entry = text === null ? null : entryOf(text);
    if (entry) {
      enter(account, entry);
      goodLines++;
      if ('shot' in entry) known.add(entry.shot);
      if (entry.kind === 'sum') fromShot = entry.nextShot;
    } else damagedLines++;
  }
  if (rest !== '') damagedLines++;
  const unknown: number[] = [];
  if (damagedLines > 0 && fromShot !== null)
    for (let shot = fromShot; shot < account.nextShot; shot++) if (!known.has(shot)) unknown.push(shot);
  return { account, goodLines, damagedLines, unknown };
};
