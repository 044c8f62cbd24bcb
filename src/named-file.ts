import { readFileSync, statSync } from 'node:fs';
import { Fault, type FaultCode } from './parts/fault.ts';

const reasons: Record<string, string> = {
  ENOENT: 'there is no such file',
  EACCES: 'you may not read it',
  EISDIR: 'it is a folder',
  ENOTDIR: 'a part of the path is no folder',
};

export interface NamedFileKind {
  code: FaultCode;
  largestBytes: number;
  /** What is said of a larger one, and what to do then. */
  tooLarge: string;
  mend: string;
}

/** Bytes of a file that a person named. Throws a `Fault` that says why it can't be read. */
export const readNamedFile = (path: string, { code: kind, largestBytes, tooLarge, mend }: NamedFileKind): Buffer => {
  try {
    if (statSync(path).size > largestBytes) throw new Fault(kind, `${path}: is larger than ${tooLarge}`, mend);
    return readFileSync(path);
  } catch (error) {
    if (error instanceof Fault) throw error;
    const { code = '', message } = error as NodeJS.ErrnoException;
    throw new Fault(kind, `${path}: can’t be read: ${reasons[code] ?? message}`, 'check the path', { cause: error });
  }
};
