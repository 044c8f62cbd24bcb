import type { Disk, DiskFaultKind, DiskHeard, DiskSaid } from './disk.ts';

type Start = (resume: (value: unknown) => void) => void;

/**
 * Work of several steps on the disk, written one below the other. It yields what it waits for and is resumed with the
 * answer: by callbacks, in the order in which the answers come, and without a promise.
 */
export type Deed<T = void> = Generator<Start, T, unknown>;

export function* wait<T>(start: (resume: (value: T) => void) => void): Deed<T> {
  return (yield start as Start) as T;
}

export const perform = (deed: Deed): void => {
  const goOn = (value: unknown) => {
    const next = deed.next(value);
    if (!next.done) next.value(goOn);
  };
  goOn(undefined);
};

/** A step on the disk failed; deeds catch it where they can go on. */
export class DiskTrouble extends Error {
  readonly fault: DiskFaultKind;
  constructor(fault: DiskFaultKind, why: string) {
    super(why);
    this.fault = fault;
  }
}

export interface DiskSteps {
  put(path: string, bytes: Uint8Array): Deed;
  append(path: string, bytes: Uint8Array): Deed;
  read(path: string, atMostBytes: number): Deed<Uint8Array>;
  rename(from: string, to: string): Deed;
  remove(path: string): Deed;
  /** Makes it, or leaves it as it is. */
  makeFolder(path: string): Deed;
  /** Names in it; none where there is no such folder. */
  list(path: string): Deed<string[]>;
  syncFolder(path: string): Deed;
  freeBytes(): Deed<number>;
}

/** One step under way at a time; steps that somebody waits for go before those that merely tidy up. */
export const createDiskSteps = (disk: Disk): { urgent: DiskSteps; idle: DiskSteps } => {
  const urgent: (() => void)[] = [];
  const idle: (() => void)[] = [];
  let busy = false;

  const next = () => {
    if (busy) return;
    const begin = urgent.shift() ?? idle.shift();
    if (!begin) return;
    busy = true;
    begin();
  };
  const stepsIn = (lane: (() => void)[]): DiskSteps => {
    const answer = <T>(begin: (heard: DiskHeard<T>) => void): Deed<DiskSaid<T>> =>
      wait(resume => {
        lane.push(() =>
          begin(said => {
            busy = false;
            resume(said);
            next();
          }),
        );
        next();
      });
    function* step<T>(begin: (heard: DiskHeard<T>) => void, instead?: (fault: DiskFaultKind) => T | null): Deed<T> {
      const said = yield* answer(begin);
      if (said.kind === 'done') return said.value;
      const other = instead?.(said.fault) ?? null;
      if (other === null) throw new DiskTrouble(said.fault, said.why);
      return other;
    }
    return {
      put: (path, bytes) => step(heard => disk.put(path, bytes, heard)),
      append: (path, bytes) => step(heard => disk.append(path, bytes, heard)),
      read: (path, atMostBytes) => step(heard => disk.read(path, atMostBytes, heard)),
      rename: (from, to) => step(heard => disk.rename(from, to, heard)),
      remove: path => step(heard => disk.remove(path, heard)),
      *makeFolder(path) {
        const said = yield* answer<void>(heard => disk.makeFolder(path, heard));
        if (said.kind === 'failed' && said.fault !== 'exists') throw new DiskTrouble(said.fault, said.why);
      },
      list: path =>
        step(
          heard => disk.list(path, heard),
          fault => (fault === 'missing' ? [] : null),
        ),
      syncFolder: path => step(heard => disk.syncFolder(path, heard)),
      freeBytes: () => step(heard => disk.freeBytes(heard)),
    };
  };
  return { urgent: stepsIn(urgent), idle: stepsIn(idle) };
};
