import { execFileSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { hanging } from '../fold.ts';
import { Fault } from '../parts/fault.ts';
import { type Belonging, carryOut, type Deed, planEnlisting, planRemoval } from '../workshop/enlist/plan.ts';
import { cautions } from '../workshop/tryout/cautions.ts';
import type { Command, Given, Io } from './command.ts';
import { textOption } from './given.ts';
import { bashCompletion, manualPage } from './manual.ts';
import { packageFile } from './package-file.ts';

const quoted = (path: string): string => `'${path.replaceAll("'", `'\\''`)}'`;

/** What the service starts: Node, and the program. */
const started = (): string[] => [process.execPath, packageFile('dist/slipshutter.cjs')];

const launcher = () => `#!/bin/sh
exec ${started().map(quoted).join(' ')} "$@"
`;

/** Folders that the unit hides from the service (ProtectHome, PrivateTmp). */
const hidden = /^\/(home|root|run\/user|tmp|var\/tmp)\//;

const belongingsOf = async (): Promise<Belonging[]> => {
  const { table } = await import('./table.ts');
  const commands = await Promise.all(table.map(async row => (await row.load()).default));
  const shipped = (name: string) => readFileSync(packageFile(name), 'utf8');
  const plain = { mode: 0o644 };
  return [
    { path: '/usr/local/bin/slipshutter', content: launcher(), mode: 0o755 },
    { path: '/etc/systemd/system/slipshutter.service', content: shipped('systemd/slipshutter.service'), ...plain },
    { path: '/etc/sysusers.d/slipshutter.conf', content: shipped('systemd/slipshutter.sysusers.conf'), ...plain },
    { path: '/etc/tmpfiles.d/slipshutter.conf', content: shipped('systemd/slipshutter.tmpfiles.conf'), ...plain },
    { path: '/etc/udev/rules.d/90-slipshutter.rules', content: shipped('systemd/90-slipshutter.rules'), ...plain },
    { path: '/etc/slipshutter/slipshutter.schema.json', content: shipped('config/slipshutter.schema.json'), ...plain },
    { path: '/etc/slipshutter/slipshutter.json', content: shipped('config/slipshutter.json'), ...plain, theirs: true },
    { path: '/usr/local/share/man/man1/slipshutter.1', content: manualPage(commands), ...plain },
    { path: '/usr/local/share/bash-completion/completions/slipshutter', content: bashCompletion(commands), ...plain },
  ];
};

const words: Record<Deed['what'], string> = {
  put: 'put in place',
  renew: 'differed, put anew',
  same: 'is there already',
  keep: 'is yours, stays as it is',
  remove: 'taken away',
  differs: 'was changed by hand, stays',
};
const planned: Partial<typeof words> = {
  put: 'would be put in place',
  renew: 'differs, would be put anew',
  remove: 'would be taken away',
};

const settle: Record<'in' | 'out', readonly (readonly string[])[]> = {
  in: [
    // Ours alone: what else is on this board isn't our matter.
    ['systemd-sysusers', 'slipshutter.conf'],
    ['systemd-tmpfiles', '--create', 'slipshutter.conf'],
    ['udevadm', 'control', '--reload'],
    ['udevadm', 'trigger'],
    ['systemctl', 'daemon-reload'],
    ['systemctl', 'enable', 'slipshutter.service'],
  ],
  out: [
    ['systemctl', 'disable', '--now', 'slipshutter.service'],
    ['systemctl', 'daemon-reload'],
  ],
};

const perform = (commands: readonly (readonly string[])[], io: Io) => {
  for (const [program, ...args] of commands) {
    try {
      execFileSync(program, args, { stdio: ['ignore', 'ignore', 'pipe'] });
      io.out(`  ${program} ${args.join(' ')}\n`);
    } catch (error) {
      // A minimal image lacks some of these; what was put in place is right all the same.
      const { message, stderr } = error as Error & { stderr?: Buffer };
      const [why] = String(stderr ?? '')
        .trim()
        .split('\n');
      io.err(`  ${program} ${args.join(' ')}: ${why || message.split('\n')[0]}\n`);
    }
  }
};

const run = async (given: Given, io: Io): Promise<number> => {
  const root = textOption(given, 'root') ?? '/';
  const write = given.values.write === true;
  if (given.positionals.length > 0)
    throw new Fault('usage', `enlist takes no argument '${given.positionals[0]}'`, 'see slipshutter enlist --help');
  const belongings = await belongingsOf();
  const removing = given.values.remove === true;
  if (removing && write && root === '/') perform(settle.out, io);
  const deeds = removing ? planRemoval(root, belongings) : planEnlisting(root, belongings);
  if (write) carryOut(root, belongings, deeds);
  for (const { what, path } of deeds) io.out(`${path}  ${(write ? undefined : planned[what]) ?? words[what]}\n`);
  if (!write) {
    io.out('\nNothing was changed: this says what would be. Add --write (as root) to do it.\n');
    return 0;
  }
  if (removing) {
    io.out('\nThe user slipshutter and the pictures in /var/lib/slipshutter stay.\n');
    return 0;
  }
  if (root === '/') perform(settle.in, io);
  for (const path of started().filter(one => hidden.test(one)))
    io.err(
      `! the service can’t see ${path}: install Node and this package for all (sudo npm install -g), then enlist again\n`,
    );
  io.out(
    '\nNext: wire and try the parts (slipshutter tryout), check (slipshutter check), then: systemctl start slipshutter\n' +
      hanging('  ! ', `${cautions.flash} ${cautions.general}`),
  );
  return 0;
};

const command: Command = {
  name: 'enlist',
  summary: 'put service, user, rules and configuration on a board, or take them away',
  usage: '[--write] [--remove] [--root DIR]',
  detail: `Without --write it only says what it would do. Your configuration is never overwritten or taken away.

  sudo slipshutter enlist --write
`,
  options: {
    write: { type: 'boolean', help: 'do it (as root)' },
    remove: { type: 'boolean', help: 'take away what is still as it was put' },
    root: { type: 'string', value: 'DIR', help: 'another root folder, for an image that is being made' },
  },
  run,
};
export default command;
