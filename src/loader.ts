import { mkdirSync, readdirSync, readFileSync, renameSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { constants, Script } from 'node:vm';
import { crc32 } from 'node:zlib';

/**
 * What starts the program. The service is one file, which is compiled from V8's own cache: that saves half of the start.
 * V8 takes a cache for what it says and crashes on a damaged one, so it is believed only when its check sum and that of
 * the source it was made from both agree; otherwise it is as if there were none, and it is made anew.
 */
const magic = 0x534c4331;
const headerBytes = 20;
const places = { magic: 0, sourceCrc: 4, sourceBytes: 8, crc: 12, bytes: 16 };
/** By then what a start needs has been compiled, and nothing more. */
const writeAfterMs = 5_000;

const read = (file: string): Buffer | null => {
  try {
    return readFileSync(file);
  } catch {
    return null;
  }
};

const payloadOf = (cache: Buffer | null, source: Buffer, sourceCrc: number): Buffer | undefined => {
  if (!cache || cache.length < headerBytes) return undefined;
  const payload = cache.subarray(headerBytes);
  const fits =
    cache.readUInt32LE(places.magic) === magic &&
    cache.readUInt32LE(places.sourceBytes) === source.length &&
    cache.readUInt32LE(places.sourceCrc) === sourceCrc &&
    cache.readUInt32LE(places.bytes) === payload.length &&
    cache.readUInt32LE(places.crc) === crc32(payload);
  return fits ? payload : undefined;
};

const write = (file: string, payload: Buffer, source: Buffer, sourceCrc: number): void => {
  const header = Buffer.alloc(headerBytes);
  header.writeUInt32LE(magic, places.magic);
  header.writeUInt32LE(sourceCrc, places.sourceCrc);
  header.writeUInt32LE(source.length, places.sourceBytes);
  header.writeUInt32LE(crc32(payload), places.crc);
  header.writeUInt32LE(payload.length, places.bytes);
  const half = `${file}.${process.pid}`;
  try {
    mkdirSync(join(file, '..'), { recursive: true });
    writeFileSync(half, Buffer.concat([header, payload]), { mode: 0o600 });
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

const startService = (): void => {
  const file = join(__dirname, 'run.bundle');
  const source = readFileSync(file);
  const sourceCrc = crc32(source);
  const folder = process.env.CACHE_DIRECTORY ?? join(__dirname, 'cache');
  const cacheFile = join(folder, `run-${process.version}-${process.arch}`);
  const cachedData = payloadOf(read(cacheFile), source, sourceCrc);
  // The bundle is plain ASCII.
  const script = new Script(source.toString('latin1'), {
    filename: file,
    cachedData,
    importModuleDynamically: constants.USE_MAIN_CONTEXT_DEFAULT_LOADER as never,
  });
  // A start that still has to check its settings compiles more than later ones need: the next start leaves the cache.
  if ((!cachedData || script.cachedDataRejected) && settingsAreKept(folder))
    setTimeout(() => write(cacheFile, script.createCachedData(), source, sourceCrc), writeAfterMs).unref();
  script.runInThisContext()({}, require, module, file, __dirname);
};

if (process.argv[2] === 'run') startService();
else void import('./tools.mjs' as string);
