import { createInterface } from 'node:readline';
import { Fault } from '../parts/fault.ts';
import type { Io } from './command.ts';

export interface Asking {
  /** True for a typed `yes` alone. */
  consent(question: string): Promise<boolean>;
  /** Asks until it is told y or n. */
  yesNo(question: string): Promise<boolean>;
  close(): void;
}

export const stopped = (): Fault => new Fault('usage', 'stopped: everything is off', 'run it again to go on');

/** Asks on the terminal, line by line. Throws a `Fault` when the person stops it or the input ends. */
export const createAsking = (io: Io): Asking => {
  const lines = createInterface({ input: io.stdin });
  const waiting: { take(line: string): void; end(): void }[] = [];
  const early: string[] = [];
  let ended = false;
  lines.on('line', line => {
    const next = waiting.shift();
    if (next) next.take(line);
    else early.push(line);
  });
  const end = () => {
    ended = true;
    for (const next of waiting.splice(0)) next.end();
  };
  lines.on('close', end);
  io.signal.addEventListener('abort', () => lines.close());

  const over = () => {
    io.out('\n');
    return io.signal.aborted
      ? stopped()
      : new Fault(
          'usage',
          'the input ended before this was answered: everything is off',
          'answer on the terminal, or consent by --yes',
        );
  };
  /** On a terminal, what was typed before the question stood there is no answer to it. */
  const forgetEarly = async () => {
    if (io.stdin.isTTY !== true) return;
    await new Promise(resolve => void setImmediate(resolve));
    early.length = 0;
  };
  const ask = async (question: string): Promise<string> => {
    await forgetEarly();
    io.out(question);
    const line = early.shift();
    if (io.signal.aborted) throw over();
    if (line !== undefined) return line.trim();
    if (ended) throw over();
    return new Promise((resolve, reject) => {
      waiting.push({ take: said => resolve(said.trim()), end: () => reject(over()) });
    });
  };
  return {
    consent: async question => /^yes$/i.test(await ask(question)),
    async yesNo(question) {
      let answer = await ask(`${question} [y/n] `);
      while (!/^(y|yes|n|no)$/i.test(answer)) answer = await ask('Type y or n: ');
      return /^y/i.test(answer);
    },
    close: () => lines.close(),
  };
};
