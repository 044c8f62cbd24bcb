import { watch } from 'node:fs';
import { constants, type FileHandle, mkdir, open, readdir, rename, rmdir, statfs, unlink } from 'node:fs/promises';
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

const withFile = async <T>(path: string, flags: string | number, act: (file: FileHandle) => Promise<T>): Promise<T> => {
  const file = await open(path, flags, 0o640);
  try {
    return await act(file);
  } finally {
    await file.close();
  }
};

const syncFolder = (path: string): Promise<void> =>
  withFile(path, constants.O_RDONLY | constants.O_DIRECTORY, folder => folder.sync());

/** Makes a folder and those above it that are missing; each name is durable before anything is put in it. */
const makeDurably = async (path: string): Promise<void> => {
  try {
    await mkdir(path, 0o750);
  } catch (error) {
    if (codeOf(error) === 'EEXIST') return;
    if (codeOf(error) !== 'ENOENT' || dirname(path) === path) throw error;
    await makeDurably(dirname(path));
    await mkdir(path, 0o750);
  }
  await syncFolder(dirname(path));
};

const remove = async (path: string): Promise<void> => {
  try {
    await unlink(path);
  } catch (error) {
    // POSIX says EPERM for a folder, Linux EISDIR.
    if (codeOf(error) !== 'EISDIR' && codeOf(error) !== 'EPERM') throw error;
    await rmdir(path);
  }
};

class TooBig extends Error {}

/**
 * The album's folder on a real file system: nothing outside of it is ever touched. `answer` brings each answer to where
 * it is heard.
 */
export const createDisk = (folder: string, answer: (deliver: () => void) => void = deliver => deliver()): Disk => {
  let made: Promise<void> | null = null;

  const inside = (path: string): string => {
    // Paths are the album's own; one that leads out of it is a fault of the program.
    if (path.startsWith('/') || path.split('/').includes('..') || path.includes('\0'))
      throw new Error(`a path that leads out of the album: ${path}`);
    return join(folder, path);
  };
  const run = <T>(heard: DiskHeard<T>, act: () => Promise<T>): void => {
    made ??= makeDurably(folder);
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
  const write = (path: string, flags: string, bytes: Uint8Array) =>
    withFile(inside(path), flags, async file => {
      await file.writeFile(bytes);
      await file.datasync();
    });

  return {
    put: (path, bytes, heard) => run(heard, () => write(path, 'w', bytes)),
    append: (path, bytes, heard) => run(heard, () => write(path, 'a', bytes)),
    read: (path, atMostBytes, heard) =>
      run(heard, () =>
        withFile(inside(path), 'r', async file => {
          const { size } = await file.stat();
          if (size > atMostBytes) throw new TooBig(`${path} has ${size} bytes, more than ${atMostBytes}`);
          return Uint8Array.from(await file.readFile());
        }),
      ),
    rename: (from, to, heard) => run(heard, () => rename(inside(from), inside(to))),
    remove: (path, heard) => run(heard, () => remove(inside(path))),
    makeFolder: (path, heard) => run(heard, () => mkdir(inside(path), 0o750).then(() => {})),
    list: (path, heard) => run(heard, () => readdir(inside(path))),
    syncFolder: (path, heard) => run(heard, () => syncFolder(inside(path))),
    freeBytes: heard =>
      run(heard, async () => {
        const { bavail, bsize } = await statfs(folder);
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
