import { Fault } from '../parts/fault.ts';
import type { Command } from './command.ts';
import { callCommand, execute } from './execute.ts';
import { overview } from './help.ts';
import { nearest } from './nearest.ts';
import { table } from './table.ts';

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

/** Runs one command line; returns the exit code. */
export const runProgram = (args: string[]): Promise<number> =>
  execute(async io => {
    const [name, ...rest] = args;
    if (name === undefined || name === '--help' || name === '-h' || name === 'help') {
      io.out(overview(table));
      return name === undefined ? 2 : 0;
    }
    if (name === '--version') {
      io.out(`${(await import('./version.ts')).version}\n`);
      return 0;
    }
    return callCommand(await findCommand(name), rest, io);
  });
