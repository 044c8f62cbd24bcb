import { existsSync } from 'node:fs';
import { boardConfigPath } from '../config/board-path.ts';
import { keepSettled, readSettled, type Settled } from '../config/settled.ts';
import { createOutlet } from '../console/outlet.ts';
import { openWay } from '../console/way.ts';
import { runDaemon } from '../linux/daemon.ts';
import { letGoOfLines } from '../linux/let-go.ts';
import { type BoardRig, type BoardRigOptions, createBoardRig } from '../linux/rig.ts';
import type { Command, Given, Io } from './command.ts';
import { textOption } from './given.ts';
import { version } from './version.ts';

/** The checker is loaded only where something has to be checked. */
const settings = async (path: string | null): Promise<Settled> => {
  const settled = readSettled(path);
  if (settled) return settled;
  const { settle } = await import('../config/settle.ts');
  const checked = settle(path);
  keepSettled(path, checked);
  return checked;
};

const run = async (createRig: (options: BoardRigOptions) => BoardRig, given: Given, io: Io): Promise<number> => {
  const path = textOption(given, 'config') ?? (existsSync(boardConfigPath) ? boardConfigPath : null);
  const { config, profile, configHash } = await settings(path);
  if (given.values['let-go']) {
    for (const why of letGoOfLines(config)) io.err(`slipshutter: ${why}\n`);
    return 0;
  }
  return runDaemon({
    config,
    profile,
    configHash,
    version,
    configName: path ?? 'defaults',
    recordFile: textOption(given, 'record') ?? null,
    createRig,
    openConsole: onDropped => createOutlet({ way: openWay(), onDropped }),
    signal: io.signal,
  });
};

/** The command over other parts: for the benchmark of its start. */
export const runCommand = (createRig: (options: BoardRigOptions) => BoardRig): Command => ({
  name: 'run',
  summary: 'the camera itself, as a service',
  usage: '[--config FILE] [--record FILE] [--let-go]',
  detail: `Opens the parts of the board and takes pictures until it is told to end (SIGTERM, SIGINT): then it finishes the print or
parks it, and lets go of every line. The log goes to the output, one JSON object a line; see slipshutter listen.

  slipshutter run --config /etc/slipshutter/slipshutter.json
`,
  options: {
    config: { type: 'string', value: 'FILE', help: `configuration (default: ${boardConfigPath}, if it is there)` },
    record: { type: 'string', value: 'FILE', help: 'record every input, for slipshutter replay' },
    'let-go': { type: 'boolean', help: 'only put coil, lamp and motor at rest, and end: after a crash' },
  },
  run: (given, io) => run(createRig, given, io),
});

export default runCommand(createBoardRig);
