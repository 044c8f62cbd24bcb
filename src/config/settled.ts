import { mkdirSync, readFileSync, renameSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { crc32 } from '../parts/crc32.ts';
import type { Profile } from './profile.ts';
import type { Config } from './schema.ts';

declare global {
  interface ImportMeta {
    /** Names the service that runs, its checker of settings included, by its content; undefined in all else. */
    readonly program?: string;
  }
}

/** Settings that were read and checked, and the files that they came from. */
export interface Settled {
  config: Config;
  profile: Profile;
  /** As recordings name them. */
  configHash: string;
  files: readonly string[];
}

interface Kept extends Settled {
  /** The program that checked them, and each file as it was. */
  program: string;
  marks: readonly string[];
}

/** Once the start is over. */
const keepAfterMs = 5_000;

const markOf = (bytes: Uint8Array): string => `${crc32(bytes)} ${bytes.length}`;
const ownFile = import.meta.filename;
const keptFile = (path: string | null): string => {
  const folder = process.env.CACHE_DIRECTORY ?? join(dirname(ownFile), 'cache');
  return join(folder, `settings-${crc32(path ?? '')}`);
};

/**
 * Settings as they were checked at an earlier start: reading them anew costs a quarter of the start. They hold only for the
 * very same program and files; anything else, damage included, is as if there were none.
 */
export const readSettled = (path: string | null, program = import.meta.program): Settled | null => {
  try {
    const kept = readFileSync(keptFile(path), 'utf8');
    const end = kept.indexOf('\n');
    const text = kept.slice(end + 1);
    if (kept.slice(0, end) !== String(crc32(text))) return null;
    const { config, profile, configHash, files, marks, program: by } = JSON.parse(text) as Kept;
    if (by === undefined || by !== program || files.some((file, i) => markOf(readFileSync(file)) !== marks[i]))
      return null;
    return { config, profile, configHash, files };
  } catch {
    return null;
  }
};

/** Keeps them for the next start, when there is time; a folder that can't be written keeps none. */
export const keepSettled = (path: string | null, settled: Settled, program = import.meta.program): void => {
  if (program === undefined) return;
  const marks = settled.files.map(file => markOf(readFileSync(file)));
  const keep = () => {
    const text = JSON.stringify({ ...settled, marks, program });
    const file = keptFile(path);
    try {
      mkdirSync(dirname(file), { recursive: true });
      writeFileSync(`${file}.new`, `${crc32(text)}\n${text}`, { mode: 0o600 });
      renameSync(`${file}.new`, file);
    } catch {
      // Then each start reads and checks.
    }
  };
  setTimeout(keep, keepAfterMs).unref();
};
