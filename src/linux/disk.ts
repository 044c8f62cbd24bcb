import {
  close,
  closeSync,
  constants,
  existsSync,
  fdatasync,
  fstat,
  fstatSync,
  fsync,
  mkdir,
  type NoParamCallback,
  open,
  openSync,
  read,
  readdir,
  readdirSync,
  readFileSync,
  rename,
  rmdir,
  type Stats,
  type StatsFs,
  statfs,
  unlink,
  watch,
  write,
} from 'node:fs';
import { dirname, join } from 'node:path';
import type { Disk, DiskFaultKind, DiskHeard } from '../album/disk.ts';
import { codeOf } from './native.ts';

const kinds: Record<string, DiskFaultKind> = {
  ENOSPC: 'full',
  EDQUOT: 'full',
  EROFS: 'read-only',
  ENOENT: 'missing',
  EEXIST: 'exists',
  ENOTEMPTY: 'exists',
};

type Heard<T> = (error: NodeJS.ErrnoException | null, value: T) => void;

/** Node's own promises of files cost time at the start: they are a module apart, and take more turns for the same. */
const got = <T>(call: (heard: Heard<T>) => void): Promise<T> =>
  new Promise((resolve, reject) => call((error, value) => (error ? reject(error) : resolve(value))));
const did = (call: (heard: NoParamCallback) => void): Promise<void> => got<void>(heard => call(error => heard(error)));

const makeFolder = (path: string): Promise<void> => did(heard => mkdir(path, 0o750, heard));
const openFile = (path: string, flags: string | number) => got<number>(heard => open(path, flags, 0o640, heard));

const inFile = async (path: string, flags: string | number, act: (fd: number) => Promise<void>): Promise<void> => {
  const fd = await openFile(path, flags);
  try {
    await act(fd);
  } finally {
    await did(heard => close(fd, heard));
  }
};

const writeFile = (path: string, flags: string, bytes: Uint8Array): Promise<void> =>
  inFile(path, flags, async fd => {
    for (let at = 0; at < bytes.length; )
      at += await got<number>(heard => write(fd, bytes, at, bytes.length - at, null, heard));
    await did(heard => fdatasync(fd, heard));
  });

const syncFolder = (path: string): Promise<void> =>
  inFile(path, constants.O_RDONLY | constants.O_DIRECTORY, fd => did(heard => fsync(fd, heard)));

class TooBig extends Error {}

const tooBig = (path: string, bytes: number, atMostBytes: number) =>
  new TooBig(`${path} has ${bytes} bytes, more than ${atMostBytes}`);

const readFileNow = (path: string, atMostBytes: number): Uint8Array => {
  const fd = openSync(path, 'r');
  try {
    const { size } = fstatSync(fd);
    if (size > atMostBytes) throw tooBig(path, size, atMostBytes);
    return Uint8Array.from(readFileSync(fd));
  } finally {
    closeSync(fd);
  }
};

const readFile = async (path: string, atMostBytes: number): Promise<Uint8Array> => {
  const fd = await openFile(path, 'r');
  try {
    const { size } = await got<Stats>(heard => fstat(fd, heard));
    if (size > atMostBytes) throw tooBig(path, size, atMostBytes);
    const bytes = new Uint8Array(size);
    let at = 0;
    for (let took = -1; at < size && took !== 0; at += took)
      took = await got<number>(heard => read(fd, bytes, at, size - at, null, heard));
    return bytes.subarray(0, at);
  } finally {
    // Nobody waits for that: nothing was written.
    close(fd);
  }
};

/** Makes a folder and those above it that are missing; each name is durable before anything is put in it. */
const makeDurably = async (path: string): Promise<void> => {
  try {
    await makeFolder(path);
  } catch (error) {
    if (codeOf(error) === 'EEXIST') return;
    if (codeOf(error) !== 'ENOENT' || dirname(path) === path) throw error;
    await makeDurably(dirname(path));
    await makeFolder(path);
  }
  await syncFolder(dirname(path));
};

const remove = async (path: string): Promise<void> => {
  try {
    await did(heard => unlink(path, heard));
  } catch (error) {
    // POSIX says EPERM for a folder, Linux EISDIR.
    if (codeOf(error) !== 'EISDIR' && codeOf(error) !== 'EPERM') throw error;
    await did(heard => rmdir(path, heard));
  }
};

/**
 * The album's folder on a real file system: nothing outside of it is ever touched. `answer` brings each answer to where
 * it is heard. Before anything is written only the opening album reads, and nothing goes on without it: that is read at
 * once, since a turn of a thread for each call takes longer than the call. From the first change on nobody waits in here.
 */
export const createDisk = (folder: string, answer: (deliver: () => void) => void = deliver => deliver()): Disk => {
  let made: Promise<void> | null = null;
  let changed = false;

  const inside = (path: string): string => {
    // Paths are the album's own; one that leads out of it is a fault of the program.
    if (path.startsWith('/') || path.split('/').includes('..') || path.includes('\0'))
      throw new Error(`a path that leads out of the album: ${path}`);
    return join(folder, path);
  };
  const run = <T>(heard: DiskHeard<T>, act: () => Promise<T> | T): void => {
    made ??= existsSync(folder) ? Promise.resolve() : makeDurably(folder);
    made.then(act).then(
      value => answer(() => heard({ kind: 'done', value })),
      (error: unknown) => {
        // The folder may come with its disk later on.
        if (codeOf(error) === 'ENOENT') made = null;
        const fault = error instanceof TooBig ? 'too-big' : (kinds[codeOf(error)] ?? 'failed');
        answer(() => heard({ kind: 'failed', fault, why: (error as Error).message }));
      },
    );
  };
  const change = (heard: DiskHeard<void>, act: () => Promise<void>): void => {
    // What else waits for its turn at the start goes first.
    if (!changed) made = (made ?? makeDurably(folder)).then(() => new Promise(resolve => setImmediate(resolve)));
    changed = true;
    run(heard, act);
  };
  /** `now` or `later`, which do the same. */
  const look = <T>(heard: DiskHeard<T>, now: () => T, later: () => Promise<T>): void =>
    run(heard, () => (changed ? later() : now()));

  return {
    put: (path, bytes, heard) => change(heard, () => writeFile(inside(path), 'w', bytes)),
    append: (path, bytes, heard) => change(heard, () => writeFile(inside(path), 'a', bytes)),
    read: (path, atMostBytes, heard) =>
      look(
        heard,
        () => readFileNow(inside(path), atMostBytes),
        () => readFile(inside(path), atMostBytes),
      ),
    rename: (from, to, heard) => change(heard, () => did(end => rename(inside(from), inside(to), end))),
    remove: (path, heard) => change(heard, () => remove(inside(path))),
    makeFolder: (path, heard) => change(heard, () => makeFolder(inside(path))),
    list: (path, heard) =>
      look(
        heard,
        () => readdirSync(inside(path)),
        () => got<string[]>(end => readdir(inside(path), end)),
      ),
    syncFolder: (path, heard) => change(heard, () => syncFolder(inside(path))),
    freeBytes: heard =>
      run(heard, async () => {
        const { bavail, bsize } = await got<StatsFs>(end => statfs(folder, end));
        return bavail * bsize;
      }),
    watch(path, heard) {
      try {
        const watcher = watch(inside(path), { persistent: false }, () => answer(heard));
        // A folder that goes away ends the watch; requests in it are then read at the next start.
        watcher.on('error', () => watcher.close());
        return () => watcher.close();
      } catch {
        return () => {};
      }
    },
  };
};
