// What the service starts: the one command that has to be quick, bundled without the others.
import { callCommand, execute } from './execute.ts';
import command from './run.ts';

void execute(io => callCommand(command, process.argv.slice(3), io)).then(code => {
  process.exitCode = code;
});
