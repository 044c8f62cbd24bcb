import { Readable } from 'node:stream';
import type { Command, Given, Io } from '../../src/cli/command.ts';
import { type Fault, isFault } from '../../src/parts/fault.ts';

export interface Ran {
  code: number;
  out: string;
  err: string;
}

export interface Wishes {
  /** Both outputs go to a terminal, or the one that is named. */
  terminal?: boolean | 'err';
  /** What is typed or piped in. */
  input?: Iterable<Uint8Array>;
  signal?: AbortSignal;
}

/** Runs a command as the program would, on outputs that are kept; a `Fault` that it throws is kept, too. */
export const tryCommand = async (
  command: Command,
  positionals: string[],
  values: Given['values'] = {},
  { terminal = false, input, signal = new AbortController().signal }: Wishes = {},
): Promise<Ran & { fault: Fault | null }> => {
  const said = { out: '', err: '' };
  const io: Io = {
    out(text) {
      said.out += text;
    },
    err(text) {
      said.err += text;
    },
    stdin: input ? Readable.from(input) : process.stdin,
    outIsTerminal: terminal === true,
    errIsTerminal: terminal !== false,
    signal,
  };
  try {
    return { code: await command.run({ positionals, values }, io), fault: null, ...said };
  } catch (error) {
    if (!isFault(error)) throw error;
    return { code: error.exitCode, fault: error, ...said };
  }
};

/** The same for what is to go well: a `Fault` is thrown on. */
export const runCommand = async (...what: Parameters<typeof tryCommand>): Promise<Ran> => {
  const { fault, ...ran } = await tryCommand(...what);
  if (fault) throw fault;
  return ran;
};

export interface Refusal {
  code: number;
  /** What is wrong and how to mend it. */
  words: string;
}

/** The same for what is to be refused; throws where it isn't. */
export const refusalOf = async (...what: Parameters<typeof tryCommand>): Promise<Refusal> => {
  const { code, fault } = await tryCommand(...what);
  if (!fault) throw new Error('not refused');
  return { code, words: `${fault.message} | ${fault.mend}` };
};

/** What was folded for a screen of 80 columns, in one line again. */
export const unfolded = (text: string): string => text.replace(/\n {2,}/g, ' ');
