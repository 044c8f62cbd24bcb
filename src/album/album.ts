import type { Config } from '../config/schema.ts';
import type { About, Album, AlbumSaid, KeepSaid, RecallSaid } from '../parts/album.ts';
import type { Clock, Undo } from '../parts/clock.ts';
import type { Frame } from '../parts/webcam.ts';
import { type Entry, pendingOf } from './account.ts';
import { createAfterwork } from './afterwork.ts';
import type { Disk } from './disk.ts';
import { aboutText, frameFileName, frameFileNames, makeFrameFile, readFrameFile } from './frame-file.ts';
import { createJournal, type Journal } from './journal.ts';
import { longestFrameBytes, picturePath, pictures, wanted } from './layout.ts';
import { findAlbum } from './opening.ts';
import { createPlaces, type Places } from './places.ts';
import { clearAway, makeRoom } from './room.ts';
import { createDiskSteps, type Deed, DiskTrouble, perform, wait } from './steps.ts';

export interface AlbumOptions {
  disk: Disk;
  clock: Clock;
  config: Pick<Config, 'album' | 'webcam'>;
}

/** From one try to the next while the disk is in trouble. */
const tryAgainUs = 5_000_000;
/** What can't be read for so many tries, a minute, counts as lost. */
const triesToRead = 12;
/** Paper that moved is written down together with the mark that mostly follows. */
const paperRestUs = 2_000_000;
/** Room that is made beyond the least, so that it is there before a picture needs it. */
const roomAheadBytes = 16_000_000;

interface Keeping {
  shot: number;
  frame: Frame;
  about: About;
  heard: (said: KeepSaid) => void;
}

/** What the disk had against it; anything else is our own fault and goes on its way. */
const whyOf = (error: unknown): string => {
  if (error instanceof DiskTrouble) return error.message;
  throw error;
};

const failed = (why: string) => ({ kind: 'failed', why }) as const;

/**
 * Pictures on a disk. A picture is kept by one durable write of a file that vouches for itself; everything else (the
 * journal's word of it, `about.json`, the place for the next one) follows when nobody waits.
 */
export const createAlbum = ({ disk, clock, config }: AlbumOptions): Album => {
  const { urgent, idle } = createDiskSteps(disk);
  const leastFreeBytes = config.album.leastFreeMb * 1e6;
  const makesRoom = config.album.whenFull === 'oldest-goes';
  const keeps: Keeping[] = [];
  const early: Entry[] = [];
  let opened: { journal: Journal; places: Places } | null = null;
  let tries = 0;
  let say: (said: AlbumSaid) => void = () => {};
  let frameName = frameFileName(config.webcam.format === 'MJPEG' ? 'MJPEG' : 'GREY');
  let freeBytes = Number.POSITIVE_INFINITY;
  let lastShot = 0;
  let trouble: string | null = null;
  let falls = 0;
  let keeping = false;
  let tidying = false;
  let tidyAgain = false;
  let stopRetry: Undo = () => {};
  let stopPaper: Undo = () => {};
  let stopWatch: Undo = () => {};

  /** Tidying rests for a while: it would say at once that all is well, and the next picture fails again. */
  const fall = (why: string) => {
    if (trouble === null) say({ kind: 'trouble', why });
    trouble = why;
    stopRetry();
    stopRetry = clock.after(tryAgainUs, tidyNow);
    falls++;
  };
  const afterwork = createAfterwork(idle, shot => say({ kind: 'asked', shot }));

  const noRoom = () => new DiskTrouble('full', `only ${Math.floor(freeBytes / 1e6)} MB are free on the disk`);
  /** How much is free is asked for when nobody waits; here it is reckoned on from there. */
  function* roomFor(bytes: number, journal: Journal): Deed {
    if (freeBytes - bytes >= leastFreeBytes) return;
    if (makesRoom) freeBytes = yield* makeRoom(urgent, journal, leastFreeBytes + bytes);
    if (freeBytes - bytes < leastFreeBytes) throw noRoom();
  }
  function* keepOne({ shot, frame, about }: Keeping): Deed<KeepSaid> {
    if (!opened) return failed(trouble ?? 'the album isn’t open yet');
    const { journal, places } = opened;
    if (shot < journal.account.nextShot || shot <= lastShot) return failed(`the number ${shot} was used already`);
    const made = makeFrameFile(shot, frame, about);
    if (made.kind === 'unfit') return failed(made.why);
    frameName = frameFileName(frame.format);
    lastShot = shot;
    try {
      yield* roomFor(made.bytes.length, journal);
      yield* places.write(shot, frameName, made.bytes);
    } catch (error) {
      places.passed(shot, false);
      const why = whyOf(error);
      fall(why);
      return failed(why);
    }
    places.passed(shot, true);
    freeBytes -= made.bytes.length;
    journal.enter({ kind: 'kept', shot });
    afterwork.about(shot, aboutText({ shot, frame, about, sentAs: frame.format }));
    return { kind: 'kept' };
  }
  /** One at a time, so that the journal has them in their order. */
  function* keepAll(): Deed {
    keeping = true;
    for (let next = keeps.shift(); next; next = keeps.shift()) {
      const said = yield* keepOne(next);
      // Nothing is heard inside the call that asked for it, and a refusal may have taken no time.
      if (said.kind === 'failed') yield* wait<void>(resume => void clock.after(0, () => resume()));
      next.heard(said);
    }
    keeping = false;
    tidySoon();
  }
  function* recallOne(shot: number): Deed<RecallSaid> {
    let why = 'it isn’t in the album';
    for (const name of frameFileNames)
      try {
        const read = readFrameFile(yield* urgent.read(`${picturePath(shot)}/${name}`, longestFrameBytes));
        if (read.kind === 'read') return { kind: 'recalled', frame: read.file.frame, about: read.file.about };
        why = read.why;
      } catch (error) {
        if (!(error instanceof DiskTrouble) || error.fault !== 'missing') why = whyOf(error);
      }
    return failed(`picture ${shot}: ${why}`);
  }

  function* makeFolders(): Deed {
    yield* urgent.makeFolder(pictures);
    yield* urgent.makeFolder(wanted);
    yield* urgent.syncFolder('');
  }
  function* open(): Deed {
    const found = yield* findAlbum(urgent, { lastTry: ++tries >= triesToRead });
    const journal = createJournal(urgent, found.account);
    const { account } = journal;
    // Without a durable journal nobody could tell after a cut which pictures are new.
    if (found.fresh) {
      yield* makeFolders();
      yield* journal.putInShort();
    }
    for (const { shot, about } of found.caught) {
      journal.enter({ kind: shot < account.nextShot ? 'again' : 'kept', shot });
      afterwork.about(shot, about);
    }
    for (const entry of early.splice(0)) journal.enter(entry);
    for (const shot of account.pending.keys()) afterwork.about(shot, null);
    frameName = found.spares.at(-1)?.name ?? frameName;
    opened = {
      journal,
      places: createPlaces(
        urgent,
        idle,
        found.spares.map(({ shot }) => shot),
      ),
    };
    if (disk.watch) {
      stopWatch = disk.watch(wanted, () => {
        afterwork.asks();
        tidySoon();
      });
    }
    const { nextShot, paperUsedMm } = account;
    say({ kind: 'opened', pending: pendingOf(account), nextShot, paperUsedMm });
    if (found.damage.length > 0) {
      // Said though there was other trouble before.
      trouble = null;
      fall(found.damage.join('; '));
    }
    if (account.leaving !== null) yield* clearAway(idle, account.leaving);
  }
  function* tidyAll({ journal, places }: NonNullable<typeof opened>): Deed {
    if (trouble !== null) {
      yield* makeFolders();
      yield* journal.putInShort();
    }
    for (let more = true; more; ) {
      more = yield* afterwork.one(journal);
      if (more) continue;
      if (journal.wantsShort) yield* journal.putInShort();
      else if (journal.wantsFlush) yield* journal.flushed();
      more = yield* places.tidyOne(Math.max(journal.account.nextShot, lastShot + 1), frameName);
    }
    freeBytes = yield* makesRoom ? makeRoom(idle, journal, leastFreeBytes + roomAheadBytes) : idle.freeBytes();
    if (freeBytes < leastFreeBytes) throw noRoom();
  }
  function* tidy(): Deed {
    tidying = true;
    do {
      tidyAgain = false;
      try {
        if (!opened) yield* open();
        const before = falls;
        if (opened) yield* tidyAll(opened);
        if (trouble !== null && falls === before) {
          trouble = null;
          stopRetry();
          say({ kind: 'healed' });
        }
      } catch (error) {
        fall(whyOf(error));
      }
    } while (tidyAgain && trouble === null);
    tidying = false;
  }
  const tidyNow = () => {
    tidyAgain = true;
    if (!tidying) perform(tidy());
  };
  const tidySoon = () => {
    if (trouble === null) tidyNow();
  };

  return {
    open(heard) {
      say = heard;
      tidySoon();
      return () => {
        say = () => {};
        stopRetry();
        stopPaper();
        stopWatch();
        if (opened?.journal.wantsFlush) opened.journal.flush(() => {});
      };
    },
    keep(shot, frame, about, heard) {
      keeps.push({ shot, frame, about, heard });
      if (!keeping) perform(keepAll());
    },
    mark(shot, mark, heard) {
      if (!opened) {
        clock.after(0, () => heard(failed(trouble ?? 'the album isn’t open yet')));
        return;
      }
      opened.journal.enter({ kind: mark, shot });
      opened.journal.flush(missed => {
        if (missed) fall(missed.message);
        heard(missed ? failed(missed.message) : { kind: 'kept' });
      });
    },
    keepDots(shot, dots) {
      afterwork.dots(shot, dots);
      tidySoon();
    },
    recall(shot, heard) {
      let undone = false;
      function* recall(): Deed {
        const said = yield* recallOne(shot);
        if (!undone) heard(said);
      }
      perform(recall());
      return () => {
        undone = true;
      };
    },
    paperUsed(mm, newRoll = false) {
      const entry: Entry = { kind: newRoll ? 'roll' : 'paper', mm };
      if (opened) opened.journal.enter(entry);
      else early.push(entry);
      stopPaper();
      stopPaper = clock.after(paperRestUs, tidySoon);
    },
  };
};
