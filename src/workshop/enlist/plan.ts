import { existsSync, mkdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { Fault } from '../../parts/fault.ts';

/** A file that belongs on the board. */
export interface Belonging {
  /** Absolute path on the board. */
  path: string;
  content: string;
  mode: number;
  /** The person's own once it is there: neither overwritten nor taken away. */
  theirs?: boolean;
}

export interface Deed {
  what: 'put' | 'renew' | 'same' | 'keep' | 'remove' | 'differs';
  path: string;
}

const under = (root: string, path: string) => join(root, path);

const current = (path: string): string | null => (existsSync(path) ? readFileSync(path, 'utf8') : null);

/** What putting everything in place would do. */
export const planEnlisting = (root: string, belongings: readonly Belonging[]): Deed[] =>
  belongings.map(({ path, content, theirs }) => {
    const there = current(under(root, path));
    if (there === content) return { what: 'same', path };
    if (there === null) return { what: 'put', path };
    return { what: theirs ? 'keep' : 'renew', path };
  });

/** What taking it away again would do: only what is still as we put it goes. */
export const planRemoval = (root: string, belongings: readonly Belonging[]): Deed[] =>
  belongings.flatMap(({ path, content, theirs }): Deed[] => {
    const there = current(under(root, path));
    if (there === null) return [];
    if (theirs) return [{ what: 'keep', path }];
    return [{ what: there === content ? 'remove' : 'differs', path }];
  });

/** Does what was planned. Throws a `Fault` where a file can't be written or removed. */
export const carryOut = (root: string, belongings: readonly Belonging[], deeds: readonly Deed[]): void => {
  for (const { what, path } of deeds) {
    const target = under(root, path);
    const belonging = belongings.find(one => one.path === path);
    try {
      if ((what === 'put' || what === 'renew') && belonging) {
        mkdirSync(dirname(target), { recursive: true });
        writeFileSync(`${target}.new`, belonging.content, { mode: belonging.mode });
        renameSync(`${target}.new`, target);
      }
      if (what === 'remove') rmSync(target);
    } catch (error) {
      throw new Fault('unwritable', `${target}: ${(error as Error).message}`, 'run it as root (sudo)', {
        cause: error,
      });
    }
  }
};
