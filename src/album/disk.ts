import type { Undo } from '../parts/clock.ts';

/** Why a step on the disk failed, as far as the album treats it differently. */
export type DiskFaultKind = 'full' | 'read-only' | 'missing' | 'exists' | 'too-big' | 'failed';

export type DiskSaid<T> = { kind: 'done'; value: T } | { kind: 'failed'; fault: DiskFaultKind; why: string };
export type DiskHeard<T> = (said: DiskSaid<T>) => void;

/**
 * The disk as the album needs it. Each call is heard exactly once, later, never inside the call. Paths are relative to
 * the album's folder, with `/`; '' is that folder itself, which the disk makes if it isn't there.
 *
 * Two promises carry the album: once `put` or `append` is heard the file's bytes are durable (fdatasync), and once
 * `syncFolder` is heard the names in that folder are durable. Nothing else is: a name that was just made, renamed or
 * removed may come out of a power cut either way, and a `put` that wasn't heard may leave any part of its bytes.
 * The album has one step under way at a time.
 */
export interface Disk {
  /** Creates the file or replaces its bytes, and makes them durable. */
  put(path: string, bytes: Uint8Array, heard: DiskHeard<void>): void;
  /** Adds to the end of the file, creates it where it isn't there, and makes the bytes durable. */
  append(path: string, bytes: Uint8Array, heard: DiskHeard<void>): void;
  /** The whole file; 'too-big' when it is longer than `atMostBytes`. */
  read(path: string, atMostBytes: number, heard: DiskHeard<Uint8Array>): void;
  /** In place of a file of that name, if there is one. Also for folders, where there is none. */
  rename(from: string, to: string, heard: DiskHeard<void>): void;
  /** Removes a file, or an empty folder. */
  remove(path: string, heard: DiskHeard<void>): void;
  /** 'exists' when it is there already. */
  makeFolder(path: string, heard: DiskHeard<void>): void;
  /** Names in a folder, in no particular order. */
  list(path: string, heard: DiskHeard<string[]>): void;
  syncFolder(path: string, heard: DiskHeard<void>): void;
  /** Room left for an unprivileged user, bytes. */
  freeBytes(heard: DiskHeard<number>): void;
  /** Says each time that a name may have been made in this folder by another program, where the disk can tell. */
  watch?(path: string, heard: () => void): Undo;
}
