import { parseArgs } from 'node:util';
import { Fault, isFault } from '../parts/fault.ts';
import { type Command, type Given, type Io, parseOptions } from './command.ts';
import { commandHelp } from './help.ts';

let guarded = false;
const stdout = (): NodeJS.WriteStream => {
  // A reader that closes the pipe early (head, less) ends the output, not the program with a trace.
  if (!guarded)
    process.stdout.on('error', error => {
      if ((error as NodeJS.ErrnoException).code === 'EPIPE') process.exit(0);
    });
  guarded = true;
  return process.stdout;
};

/** Streams are opened when they are first used: each costs time at every start, and the service needs none. */
const processIo = (signal: AbortSignal): Io => ({
  out: text => void stdout().write(text),
  err: text => void process.stderr.write(text),
  get stdin() {
    return process.stdin;
  },
  get outIsTerminal() {
    return stdout().isTTY === true;
  },
  get errIsTerminal() {
    return process.stderr.isTTY === true;
  },
  signal,
});

const parseGiven = (command: Command, args: string[]): Given => {
  try {
    const { values, positionals } = parseArgs({
      args,
      options: { ...parseOptions(command.options), help: { type: 'boolean', short: 'h' } },
      allowPositionals: true,
    });
    return { values, positionals };
  } catch (error) {
    // parseArgs speaks of its own API from the second sentence on.
    const [first] = (error as Error).message.split('. ');
    throw new Fault('usage', first, `see slipshutter ${command.name} --help`);
  }
};

const reportFault = (io: Io, error: unknown): number => {
  if (isFault(error)) {
    io.err(`slipshutter: ${error.message}\n${error.mend ? `  ${error.mend}\n` : ''}`);
    return error.exitCode;
  }
  io.err(`slipshutter: a fault of the program itself: ${(error as Error)?.stack ?? String(error)}\n`);
  return 1;
};

/** One command with its arguments, or its help. */
export const callCommand = (command: Command, args: string[], io: Io): Promise<number> | number => {
  const given = parseGiven(command, args);
  if (!given.values.help) return command.run(given, io);
  io.out(commandHelp(command));
  return 0;
};

/** Runs `act` as the process's work: signals, failures in words, exit code (design: 0 done, 1 program, 2 usage, 3 differs, 4 part, 5 input). */
export const execute = async (act: (io: Io) => Promise<number> | number): Promise<number> => {
  const abort = new AbortController();
  const io = processIo(abort.signal);
  const stop = () => abort.abort();
  const signals = ['SIGINT', 'SIGTERM', 'SIGHUP'] as const;
  for (const signal of signals) process.once(signal, stop);
  try {
    return await act(io);
  } catch (error) {
    return reportFault(io, error);
  } finally {
    for (const signal of signals) process.off(signal, stop);
  }
};
