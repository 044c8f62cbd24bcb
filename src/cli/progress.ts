import type { Io } from './command.ts';

/** A line on the terminal that says how far long work is; nothing in a pipe. */
export interface Progress {
  at(done: number): void;
  /** Takes the line away. */
  end(): void;
}

const width = 24;

/** `what` names the things that are counted, for instance `pictures`. Redrawn only when its look changes. */
export const createProgress = (io: Pick<Io, 'err' | 'errIsTerminal'>, total: number, what: string): Progress => {
  let last = '';
  return {
    at(done) {
      if (!io.errIsTerminal || total <= 0) return;
      const share = Math.min(1, done / total);
      const full = Math.round(share * width);
      const line = `${'━'.repeat(full)}${'╌'.repeat(width - full)} ${Math.floor(share * 100)} % of ${total} ${what}`;
      if (line === last) return;
      last = line;
      io.err(`\r${line}`);
    },
    end() {
      if (last !== '') io.err(`\r${' '.repeat(last.length)}\r`);
      last = '';
    },
  };
};
