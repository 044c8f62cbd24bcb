import type { Disk, DiskFaultKind, DiskHeard } from '../src/album/disk.ts';
import type { Clock, Undo } from '../src/parts/clock.ts';
import { DiskError, type DiskModel } from './disk.ts';
import type { Chance } from './random.ts';

export interface DiskPort extends Disk {
  control: {
    /** Every step takes this many times as long. */
    slow(times: number): void;
    /** A disk that says it has synced and hasn't: what a forgotten fsync would be. */
    lie(about: 'files' | 'folders' | null): void;
    /** The next `count` steps fail as a worn card does. */
    fail(count: number): void;
    /** The board's power goes: each step under way has just been done or never is. Before the model's own cut. */
    powerCut(luck: Chance): void;
  };
}

/** A memory card: a step with its sync, and each byte. Invented, of the size that such cards show. */
const stepUs = 2500;
const byteUs = 0.08;

const kinds: Partial<Record<DiskError['code'], DiskFaultKind>> = {
  ENOSPC: 'full',
  EROFS: 'read-only',
  ENOENT: 'missing',
  EEXIST: 'exists',
};

/** The disk as the album sees it, over a model that knows what is durable. */
export const createDiskPort = (clock: Clock, model: DiskModel, luck: Chance): DiskPort => {
  let times = 1;
  let lying: 'files' | 'folders' | null = null;
  let failures = 0;
  const underWay = new Set<{ stop: Undo; act: () => unknown }>();

  const attempt = <T>(heard: DiskHeard<T>, act: () => T): void => {
    try {
      if (failures > 0) {
        failures--;
        throw new DiskError('EIO', 'input/output error');
      }
      heard({ kind: 'done', value: act() });
    } catch (error) {
      if (!(error instanceof DiskError)) throw error;
      heard({ kind: 'failed', fault: kinds[error.code] ?? 'failed', why: error.message });
    }
  };
  const tookUs = (bytes: number) => (stepUs * (0.6 + 0.8 * luck.next()) + bytes * byteUs) * times;
  const later = <T>(bytes: number, heard: DiskHeard<T>, act: () => T) => {
    const step = { act, stop: () => {} };
    underWay.add(step);
    step.stop = clock.after(tookUs(bytes), () => {
      underWay.delete(step);
      attempt(heard, act);
    });
  };
  /** The bytes reach the file at once, and the card some time later: a cut between tears them. */
  const written = (path: string, bytes: Uint8Array, heard: DiskHeard<void>, write: () => void) => {
    let refused: unknown = null;
    try {
      write();
    } catch (error) {
      refused = error;
    }
    later(bytes.length, heard, () => {
      if (refused !== null) throw refused;
      if (lying !== 'files') model.sync(path);
    });
  };

  return {
    put: (path, bytes, heard) => written(path, bytes, heard, () => model.write(path, bytes)),
    append: (path, bytes, heard) => written(path, bytes, heard, () => model.append(path, bytes)),
    read(path, atMostBytes, heard) {
      const length = model.exists(path) && !model.isFolder(path) ? model.read(path).length : 0;
      clock.after(tookUs(length), () => {
        if (length > atMostBytes) heard({ kind: 'failed', fault: 'too-big', why: `${path} has ${length} bytes` });
        else attempt(heard, () => model.read(path));
      });
    },
    rename: (from, to, heard) => later(0, heard, () => model.rename(from, to)),
    remove: (path, heard) => later(0, heard, () => model.remove(path)),
    makeFolder: (path, heard) => later(0, heard, () => model.makeFolder(path)),
    list: (path, heard) => later(0, heard, () => model.list(path)),
    syncFolder: (path, heard) =>
      later(0, heard, () => {
        if (lying !== 'folders') model.syncFolder(path);
      }),
    freeBytes: heard => later(0, heard, () => model.freeBytes()),
    control: {
      slow(now) {
        times = now;
      },
      lie(about) {
        lying = about;
      },
      fail(count) {
        failures = count;
      },
      powerCut(cutLuck) {
        for (const { stop, act } of underWay) {
          stop();
          if (cutLuck.hit(0.5)) attempt(() => {}, act);
        }
        underWay.clear();
      },
    },
  };
};
