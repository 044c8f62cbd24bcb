import type { ParseArgsConfig } from 'node:util';

export interface OptionEntry {
  type: 'string' | 'boolean';
  short?: string;
  multiple?: boolean;
  /** Name of the value in the help, for instance FILE. */
  value?: string;
  help: string;
}

/** What a command may touch of the world outside its arguments. */
export interface Io {
  out(text: string): void;
  /** Messages for the person; never part of the result. */
  err(text: string): void;
  stdin: NodeJS.ReadableStream & { isTTY?: boolean };
  /** Whether `out` and `err` go to a terminal: colour and progress only there. */
  outIsTerminal: boolean;
  errIsTerminal: boolean;
  /** Aborted on SIGINT, SIGTERM and SIGHUP (its terminal was closed); a command then lets go of everything and returns. */
  signal: AbortSignal;
}

export interface Given {
  values: Record<string, string | boolean | (string | boolean)[] | undefined>;
  positionals: string[];
}

/** One command; its file loads nothing that the command doesn't need. Failures a person can mend are thrown as `Fault`. */
export interface Command {
  name: string;
  /** One line for the table of commands. */
  summary: string;
  /** Arguments after the name, for instance `[SCRIPT]`. */
  usage: string;
  /** Further help: a few lines, with an example. */
  detail: string;
  options: Record<string, OptionEntry>;
  /** What may be said after the name, where that is a fixed set; for completion. */
  words?: readonly string[];
  /** Returns the exit code: 0 done, 3 compared and differs; failures are thrown. */
  run(given: Given, io: Io): Promise<number> | number;
}

export const parseOptions = (options: Command['options']): NonNullable<ParseArgsConfig['options']> =>
  Object.fromEntries(
    Object.entries(options).map(([name, { type, short, multiple }]) => [
      name,
      { type, ...(short ? { short } : {}), ...(multiple ? { multiple } : {}) },
    ]),
  );
