import { closeSync, openSync, readSync } from 'node:fs';
import { type Boot, createBootWatch } from '../../console/boot.ts';
import { createConsoleParser } from '../../console/read/stream.ts';
import { Fault } from '../../parts/fault.ts';

const pieceBytes = 65_536;

/** The last boot in a captured console. Throws a `Fault` where the file can't be read or holds none. */
export const readBoot = (path: string): Boot => {
  const parser = createConsoleParser();
  const watch = createBootWatch();
  let boot: Boot | null = null;
  const take = (heard: ReturnType<typeof parser.push>) => {
    for (const one of heard) boot = watch.take(one) ?? boot;
  };
  try {
    const fd = openSync(path, 'r');
    try {
      const piece = Buffer.alloc(pieceBytes);
      for (let length = readSync(fd, piece); length > 0; length = readSync(fd, piece))
        take(parser.push(piece.subarray(0, length)));
    } finally {
      closeSync(fd);
    }
  } catch (error) {
    throw new Fault('unreadable', `${path} can’t be read: ${(error as Error).message}`, 'check the path');
  }
  take(parser.end());
  boot = watch.end() ?? boot;
  if (boot) return boot;
  throw new Fault(
    'unreadable',
    `${path}: there is no boot in it`,
    'capture the serial console from switching on until the camera is ready',
  );
};
