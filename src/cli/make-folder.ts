import { mkdirSync, statSync } from 'node:fs';
import { dirname, resolve } from 'node:path';

/**
 * Makes a folder that a person named, with those above it. Throws what the file system says. Not `mkdirSync` with
 * `recursive`: where a file system has no such folder to give (under `/proc`), that one tries for ever.
 */
export const makeFolder = (path: string): void => {
  const folder = resolve(path);
  if (statSync(folder, { throwIfNoEntry: false })?.isDirectory()) return;
  if (dirname(folder) !== folder) makeFolder(dirname(folder));
  mkdirSync(folder);
};
