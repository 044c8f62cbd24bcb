import { renameSync, rmSync, writeFileSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { Fault } from '../parts/fault.ts';
import { makeFolder } from './make-folder.ts';

export interface OutFolder {
  readonly path: string;
  write(name: string, content: string | Uint8Array): void;
  /** Moves everything that was written into place. */
  finish(): void;
  /** Leaves nothing behind. */
  abandon(): void;
}

/**
 * A folder for results: files are written beside it first and moved into place at the end, so that nothing half-written
 * is ever found there. Throws a `Fault` at once when it can't be written.
 */
export const openOutFolder = (path: string): OutFolder => {
  const final = resolve(path);
  const making = `${final}.making-${process.pid}`;
  const refuse = (error: unknown): never => {
    throw new Fault(
      'unwritable',
      `${path}: can’t be written (${(error as Error).message})`,
      'choose another folder with --out',
      { cause: error },
    );
  };
  const names: string[] = [];
  try {
    makeFolder(final);
    makeFolder(making);
  } catch (error) {
    refuse(error);
  }
  const abandon = () => rmSync(making, { recursive: true, force: true });
  return {
    path: final,
    write(name, content) {
      try {
        writeFileSync(join(making, name), content);
        names.push(name);
      } catch (error) {
        abandon();
        refuse(error);
      }
    },
    finish() {
      for (const name of names) renameSync(join(making, name), join(final, name));
      abandon();
    },
    abandon,
  };
};
