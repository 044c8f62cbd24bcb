import { dirname, resolve } from 'node:path';
import { hashOf } from '../record/recorder.ts';
import { loadConfig } from './load.ts';
import { loadProfile } from './load-profile.ts';
import type { Settled } from './settled.ts';

/** Reads and checks all settings. Throws a `Fault` that lists all that is wrong. */
export const settle = (path: string | null): Settled => {
  const { config } = loadConfig(path);
  const name = config.printer.profile;
  const profile = loadProfile(name, path);
  const files = path === null ? [] : [path];
  if (/[/\\]|\.json$/i.test(name)) files.push(path === null ? name : resolve(dirname(path), name));
  return { config, profile, configHash: hashOf(config, profile), files };
};
