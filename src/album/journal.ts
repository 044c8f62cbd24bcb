import { type Account, type Entry, enter, lineOf, sumOf } from './account.ts';
import { journalPath, newJournalPath } from './layout.ts';
import { type Deed, type DiskSteps, DiskTrouble, perform, wait } from './steps.ts';

/** Longer than this, the journal is put in short: reading it must stay cheap at the start. */
const longestBytes = 32_768;

export interface Journal {
  readonly account: Account;
  /** Counts at once; is durable after the next flush. */
  enter(entry: Entry): void;
  /** Everything entered so far is durable, or the trouble why it isn't. */
  flush(heard: (trouble: DiskTrouble | null) => void): void;
  /** The same within a deed: throws the trouble. */
  flushed(): Deed;
  /** Puts the journal in short: also mends what is damaged, and says again what a full disk refused. */
  putInShort(): Deed;
  readonly wantsFlush: boolean;
  readonly wantsShort: boolean;
}

const bytesOf = (text: string): Uint8Array => Buffer.from(text, 'latin1');

/**
 * Goes on from what was read. The first write puts it in short, whatever was found: what an earlier life wrote may be
 * there to read and not be durable, or end torn.
 */
export const createJournal = (steps: DiskSteps, account: Account): Journal => {
  let lengthBytes = 0;
  /** The file can't be appended to: its end isn't known, or an entry is missing. */
  let broken = true;
  let short = false;
  let lines: string[] = [];
  let waiting: ((trouble: DiskTrouble | null) => void)[] = [];
  let working = false;

  function* writeSum(): Deed {
    // Twice, since everything hangs on this line: damage to one of them does no harm.
    const bytes = bytesOf(lineOf(sumOf(account)).repeat(2));
    yield* steps.put(newJournalPath, bytes);
    yield* steps.rename(newJournalPath, journalPath);
    yield* steps.syncFolder('');
    lengthBytes = bytes.length;
    broken = false;
  }
  function* writeLines(now: string[]): Deed {
    if (now.length === 0) return;
    const bytes = bytesOf(now.join(''));
    yield* steps.append(journalPath, bytes);
    lengthBytes += bytes.length;
  }
  /** One writer: what is entered meanwhile goes into the next round, in one write. */
  function* work(): Deed {
    working = true;
    while (waiting.length > 0) {
      const [now, answers, inShort] = [lines, waiting, short || broken];
      [lines, waiting, short] = [[], [], false];
      let trouble: DiskTrouble | null = null;
      try {
        yield* inShort ? writeSum() : writeLines(now);
      } catch (error) {
        if (!(error instanceof DiskTrouble)) throw error;
        // The next round writes the whole account, and with it what was refused now.
        broken = true;
        trouble = error;
      }
      for (const answer of answers) answer(trouble);
    }
    working = false;
  }
  const flush: Journal['flush'] = heard => {
    waiting.push(heard);
    if (!working) perform(work());
  };
  function* flushed(): Deed {
    const trouble = yield* wait<DiskTrouble | null>(flush);
    if (trouble) throw trouble;
  }

  return {
    account,
    enter(entry) {
      enter(account, entry);
      lines.push(lineOf(entry));
    },
    flush,
    flushed,
    *putInShort() {
      short = true;
      yield* flushed();
    },
    get wantsFlush() {
      return lines.length > 0 || broken;
    },
    get wantsShort() {
      return lengthBytes > longestBytes;
    },
  };
};
