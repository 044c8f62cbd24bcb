import { mkdirSync, readdirSync, readFileSync, renameSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { Script } from 'node:vm';
import { cacheOf, readCache } from './code-cache.ts';

/**
 * What starts the program. The service is one file, which is compiled from V8's own cache: that saves half of the start. A
 * cache is believed only when it is whole and of this very file; otherwise it is as if there were none, and it is made anew.
 */

/** By then what a start needs has been compiled, and nothing more. */
const writeAfterMs = 5_000;

const write = (file: string, cache: Buffer): void => {
  const half = `${file}.${process.pid}`;
  try {
    mkdirSync(join(file, '..'), { recursive: true });
    writeFileSync(half, cache, { mode: 0o600 });
    renameSync(half, file);
  } catch {
    // A folder that we may not write: then each start compiles.
  }
};

const settingsAreKept = (folder: string): boolean => {
  try {
    return readdirSync(folder).some(name => name.startsWith('settings-'));
  } catch {
    return false;
  }
};

/** What the bundler wrote at the end of the file names its content; the rest shows whether somebody changed it since. */
const nameOf = (file: string, source: Buffer): string => {
  const { mtimeMs, ctimeMs } = statSync(file);
  return `${source.toString('latin1', source.lastIndexOf('/') + 1).trim()} ${source.length} ${mtimeMs} ${ctimeMs}`;
};

const startService = (): void => {
  const file = join(__dirname, 'run.bundle');
  const source = readFileSync(file);
  const program = nameOf(file, source);
  const folder = process.env.CACHE_DIRECTORY ?? join(__dirname, 'cache');
  const cacheFile = join(folder, `run-${process.version}-${process.arch}`);
  const cachedData = readCache(cacheFile, program);
  // The bundle is plain ASCII.
  const script = new Script(source.toString('latin1'), { filename: file, cachedData });
  // A start that still has to check its settings compiles more than later ones need: the next start leaves the cache.
  if ((!cachedData || script.cachedDataRejected) && settingsAreKept(folder))
    setTimeout(() => write(cacheFile, cacheOf(program, script.createCachedData())), writeAfterMs).unref();
  script.runInThisContext()({}, require, module, file, __dirname, program);
};

if (process.argv[2] === 'run') startService();
else void import('./tools.mjs' as string);
