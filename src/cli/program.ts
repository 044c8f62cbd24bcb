import { parseArgs } from 'node:util';
import { Fault, isFault } from '../parts/fault.ts';
import type { Command, Given, Io } from './command.ts';
import { parseOptions } from './command.ts';
import { commandHelp, overview } from './help.ts';
import { nearest } from './nearest.ts';
import { table } from './table.ts';

const processIo = (signal: AbortSignal): Io => ({
  out: text => void process.stdout.write(text),
  err: text => void process.stderr.write(text),
  stdin: process.stdin,
  outIsTerminal: process.stdout.isTTY === true,
  errIsTerminal: process.stderr.isTTY === true,
  signal,
});

const findCommand = async (name: string): Promise<Command> => {
  const row = table.find(entry => entry.name === name);
  if (row) return (await row.load()).default;
  const guess = nearest(
    name,
    table.map(entry => entry.name),
  );
  throw new Fault(
    'usage',
    `there is no command '${name}'`,
    guess ? `did you mean '${guess}'?` : 'see slipshutter --help',
  );
};

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

/** Runs one command line; returns the exit code (design: 0 done, 1 program, 2 usage, 3 differs, 4 part, 5 input). */
export const runProgram = async (args: string[]): Promise<number> => {
  const abort = new AbortController();
  const io = processIo(abort.signal);
  const stop = () => abort.abort();
  process.once('SIGINT', stop).once('SIGTERM', stop);
  // A reader that closes the pipe early (head, less) ends the output, not the program with a trace.
  process.stdout.on('error', error => {
    if ((error as NodeJS.ErrnoException).code === 'EPIPE') process.exit(0);
  });
  try {
    const [name, ...rest] = args;
    if (name === undefined || name === '--help' || name === '-h' || name === 'help') {
      io.out(overview(table));
      return name === undefined ? 2 : 0;
    }
    if (name === '--version') {
      io.out(`${(await import('./version.ts')).version}\n`);
      return 0;
    }
    const command = await findCommand(name);
    const given = parseGiven(command, rest);
    if (given.values.help) {
      io.out(commandHelp(command));
      return 0;
    }
    return await command.run(given, io);
  } catch (error) {
    return reportFault(io, error);
  } finally {
    process.off('SIGINT', stop).off('SIGTERM', stop);
  }
};
