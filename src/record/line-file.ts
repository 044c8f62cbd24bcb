import { closeSync, fstatSync, openSync, readSync, write, writeSync } from 'node:fs';
import { Fault } from '../parts/fault.ts';

/** A file that lines are added to without anybody waiting for the disk. */
export interface LineFile {
  write(line: string): void;
  /** Resolves when everything is written and the file is closed. */
  close(): Promise<void>;
}

export interface LineFileOptions {
  path: string;
  /** Nothing more is written: the disk is full, gone, or too slow for what comes. Said once. */
  onTrouble?: (why: string) => void;
}

const gatherMs = 200;
const gatherBytes = 65_536;
/** A disk that is behind by so much doesn't catch up. */
const mostWaitingBytes = 16_000_000;

/** Opens for adding. After a cut the last line may be torn: what follows begins on a line of its own. */
const openEnd = (path: string): number => {
  const fd = openSync(path, 'a+', 0o640);
  const { size } = fstatSync(fd);
  const last = new Uint8Array(1);
  if (size > 0 && readSync(fd, last, 0, 1, size - 1) === 1 && last[0] !== 0x0a) writeSync(fd, '\n');
  return fd;
};

/** Throws a `Fault` when the file can't be opened. */
export const createLineFile = ({ path, onTrouble = () => {} }: LineFileOptions): LineFile => {
  let fd: number | null;
  try {
    fd = openEnd(path);
  } catch (error) {
    throw new Fault(
      'unwritable',
      `${path}: can’t be written (${(error as Error).message})`,
      'give a file in a folder that exists and that you may write to',
      { cause: error },
    );
  }
  let lines: string[] = [];
  let waitingBytes = 0;
  let under: Uint8Array | null = null;
  let timer: NodeJS.Timeout | null = null;
  let closed: (() => void) | null = null;
  let broken = false;

  const shut = () => {
    if (fd !== null) closeSync(fd);
    fd = null;
    closed?.();
  };
  const fail = (why: string) => {
    if (broken) return;
    broken = true;
    lines = [];
    waitingBytes = 0;
    onTrouble(why);
    if (!under) shut();
  };
  const put = (bytes: Uint8Array, file: number) => {
    under = bytes;
    write(file, bytes, (error, written) => {
      under = null;
      if (broken) return shut();
      if (error) return fail(error.message);
      if (written < bytes.length) return put(bytes.subarray(written), file);
      later();
    });
  };
  const pump = () => {
    timer = null;
    if (under || fd === null) return;
    if (lines.length === 0) return closed ? shut() : undefined;
    const bytes = Buffer.from(lines.join(''));
    lines = [];
    waitingBytes = 0;
    put(bytes, fd);
  };
  const later = () => {
    if (closed || waitingBytes >= gatherBytes) return pump();
    if (timer !== null || lines.length === 0) return;
    timer = setTimeout(pump, gatherMs);
    timer.unref();
  };

  return {
    write(line) {
      if (broken || closed) return;
      lines.push(line);
      waitingBytes += line.length;
      if (waitingBytes > mostWaitingBytes) fail('the disk is too slow for it');
      else if (!under) later();
    },
    close: () =>
      new Promise(resolve => {
        closed = resolve;
        if (timer !== null) clearTimeout(timer);
        if (fd === null) resolve();
        else pump();
      }),
  };
};
