import type { Outlet } from '../src/console/outlet.ts';
import type { VirtualConsole } from './console.ts';
import type { Violation } from './judge.ts';

export interface ConsoleCount {
  /** The outlet of a life that begins, with its lines counted. */
  counted(outlet: Outlet): Outlet;
  /** To be asked when all has been healed and is at rest. */
  violations(nowUs: number): Violation[];
}

/**
 * Holds what was said to a console against what came out of it: whole lines only, and of those that are missing it is
 * said how many they are.
 */
export const createConsoleCount = (console: VirtualConsole): ConsoleCount => {
  const broken: string[] = [];
  let outlet: Outlet | null = null;
  let said = 0;

  const read = (): { out: number; missing: number } => {
    let missing = 0;
    const lines = console.take();
    for (const line of lines) {
      try {
        const { event, lines: count } = JSON.parse(line);
        if (event === 'dropped') missing += count;
      } catch {
        broken.push(line);
      }
    }
    return { out: lines.length, missing };
  };

  return {
    counted(next) {
      // What the life before had to say, as far as it came.
      read();
      said = 0;
      outlet = next;
      const { write } = next;
      next.write = line => {
        said++;
        write(line);
      };
      return next;
    },
    violations(atUs) {
      const { out, missing } = read();
      const unsaid = (outlet?.dropped ?? 0) + missing;
      const found = broken.map(
        (line): Violation => ({ promise: 'console', atUs, what: `not a line of the log: ${line}` }),
      );
      if (out + unsaid !== said)
        found.push({
          promise: 'console',
          atUs,
          what: `${said} lines said, ${out} came out, ${unsaid} known as missing`,
        });
      return found;
    },
  };
};
