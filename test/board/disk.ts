import { copyFileSync, existsSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import type { Chance } from '../../sim/random.ts';

/**
 * A disk with a write cache that forgets. The guest sees a cache (virtio, `write-cache=on`), so its file system flushes.
 * The emulator's `blklogwrites` filter records each write and flush, in the format of the kernel's dm-log-writes
 * (Documentation/admin-guide/device-mapper/log-writes.rst). After a power cut the disk is made anew from what it was
 * before the boot: all writes up to the last flush, and of the later ones what chance lets through.
 */
const before = (path: string) => `${path}.before`;
const written = (path: string) => `${path}.writes`;

/** As slow as a cheap memory card (from memory), so that cuts also fall between a write and its flush. */
const writesASecond = 60;

/** Options of the emulator for the state disk in the file `path`. */
export const forgetfulDisk = (path: string): string[] => {
  copyFileSync(path, before(path));
  writeFileSync(written(path), '');
  // The host stays up: what it caches itself is safe.
  const file = (name: string, filename: string) => [
    '-blockdev',
    `driver=file,node-name=${name},filename=${filename},cache.no-flush=on`,
  ];
  return [
    ...file('base', path),
    ...file('writes', written(path)),
    ...['-blockdev', 'driver=blklogwrites,node-name=logged,file=base,log=writes,log-super-update-interval=1'],
    ...['-object', `throttle-group,id=card,x-iops-write=${writesASecond}`],
    ...['-blockdev', 'driver=throttle,node-name=state,file=logged,throttle-group=card'],
    ...['-device', 'virtio-blk-pci,drive=state,write-cache=on'],
  ];
};

const logMagic = 0x6a736677736872n;
const flushFlag = 1n;
const discardFlag = 4n;

interface Written {
  kind: 'write' | 'flush';
  at: number;
  data: Uint8Array;
}

/** Everything that reached the disk, in its order. Throws where it is no such log. */
export const readWrites = (log: Buffer): Written[] => {
  if (log.length < 512) return [];
  if (log.readBigUInt64LE(0) !== logMagic) throw new Error('this is no log of writes');
  const entries = Number(log.readBigUInt64LE(16));
  const sector = log.readUInt32LE(24);
  const all: Written[] = [];
  let at = sector;
  for (let i = 0; i < entries && at + 32 <= log.length; i++) {
    const [from, sectors, flags] = [0, 8, 16].map(field => log.readBigUInt64LE(at + field));
    const bytes = flags & discardFlag ? 0 : Number(sectors) * sector;
    at += sector;
    // The emulator died before this one was whole.
    if (at + bytes > log.length) break;
    if (flags & flushFlag) all.push({ kind: 'flush', at: 0, data: new Uint8Array(0) });
    if (bytes > 0) all.push({ kind: 'write', at: Number(from) * sector, data: log.subarray(at, at + bytes) });
    at += bytes;
  }
  return all;
};

export interface Loss {
  flushes: number;
  /** Writes since the last flush: those that arrived whole, torn at a sector, and not at all. */
  whole: number;
  torn: number;
  lost: number;
}

/** What is on the disk at `path` after the power was cut: the emulator must be gone. */
export const losePower = (path: string, chance: Chance): Loss => {
  const disk = readFileSync(before(path));
  const writes = readWrites(readFileSync(written(path)));
  const lastFlush = writes.findLastIndex(({ kind }) => kind === 'flush');
  const loss: Loss = { flushes: writes.filter(({ kind }) => kind === 'flush').length, whole: 0, torn: 0, lost: 0 };
  for (const [i, { kind, at, data }] of writes.entries()) {
    if (kind === 'flush') continue;
    if (i < lastFlush) disk.set(data, at);
    else {
      const fate = chance.pick(['whole', 'torn', 'lost'] as const);
      const sectors = data.length / 512;
      const kept = fate === 'whole' ? sectors : fate === 'lost' ? 0 : chance.whole(0, sectors - 1);
      disk.set(data.subarray(0, kept * 512), at);
      loss[fate]++;
    }
  }
  writeFileSync(path, disk);
  return loss;
};

export const forgetWrites = (path: string): void => {
  for (const file of [before(path), written(path)]) if (existsSync(file)) rmSync(file);
};
