import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { userInfo } from 'node:os';
import { type BoardFacts, boardSchema } from '../config/board.ts';
import { type Finding, finding, type Gravity } from '../config/finding.ts';
import { findAll } from '../config/findings.ts';
import { findConfigPath, inspectConfig, readSettingsFile } from '../config/load.ts';
import { loadProfile } from '../config/load-profile.ts';
import type { Profile } from '../config/profile.ts';
import { type Config, defaultConfig } from '../config/schema.ts';
import { parseSettings, settingName } from '../config/settings.ts';
import { hanging } from '../fold.ts';
import { Fault, isFault } from '../parts/fault.ts';
import { cautions } from '../workshop/tryout/cautions.ts';
import type { Command, Io } from './command.ts';
import { counted } from './counted.ts';
import { textOption } from './given.ts';

const signs: Record<Gravity, string> = { fault: '✗', warning: '!', note: '·' };

const findingText = ({ gravity, setting, what, why, mend }: Finding): string =>
  [
    hanging(`${signs[gravity]} `, `${setting === '' ? '' : `${setting}: `}${what}`),
    hanging('    why   ', why),
    mend === '' ? '' : hanging('    mend  ', mend),
  ].join('');

/** Who runs the camera: the service's own user where there is one. */
const usualUser = (): string => {
  const hasService = existsSync('/etc/passwd') && /^slipshutter:/m.test(readFileSync('/etc/passwd', 'utf8'));
  return hasService ? 'slipshutter' : userInfo().username;
};

interface Read {
  /** Null where something is wrong with either; then the findings say what. */
  settings: { config: Config; profile: Profile } | null;
  findings: Finding[];
}

const why = 'the camera doesn’t start';

/** Configuration and printer profile with all their faults at once, as findings. */
const readSettings = (path: string | null): Read => {
  const { value, rest, faults, lineOf } =
    path === null
      ? { value: defaultConfig(), rest: null, faults: [], lineOf: () => 1 }
      : inspectConfig(readSettingsFile(path));
  const findings = faults.map(one =>
    finding('fault', settingName(one.path), `${path}, line ${one.line}: ${one.what}`, why, one.mend),
  );
  // A profile whose name is itself at fault isn't the one that was meant.
  const named = faults.some(one => settingName(one.path) === 'printer.profile') ? null : (value ?? rest);
  if (!named) return { settings: null, findings };
  try {
    const profile = loadProfile(named.printer.profile, path);
    return { settings: value && { config: value, profile }, findings };
  } catch (error) {
    if (!isFault(error)) throw error;
    const place = path === null ? '' : `${path}, line ${lineOf(['printer', 'profile'])}: `;
    const what = `${place}${error.message.replace(/^printer\.profile: /, '')}`;
    return { settings: null, findings: [...findings, finding('fault', 'printer.profile', what, why, error.mend)] };
  }
};

const readBoard = async (file: string | undefined, config: Config, user: string): Promise<BoardFacts> => {
  if (file !== undefined) return parseSettings(readSettingsFile(file), boardSchema, file);
  if (process.platform !== 'linux')
    throw new Fault('part-missing', 'this is no Linux board', 'describe one in a file and name it by --board');
  const { gatherBoardFacts } = await import('../linux/board-facts.ts');
  return gatherBoardFacts(config, user);
};

const save = (path: string, board: BoardFacts): void => {
  try {
    writeFileSync(path, `${JSON.stringify(board, null, 2)}\n`);
  } catch (error) {
    throw new Fault('unwritable', `${path} can’t be written: ${(error as Error).message}`, 'choose another --save');
  }
};

const report = (
  io: Io,
  json: boolean,
  path: string | null,
  board: BoardFacts | null,
  findings: readonly Finding[],
): void => {
  const of = (gravity: Gravity) => findings.filter(one => one.gravity === gravity).length;
  const [faults, warnings] = [of('fault'), of('warning')];
  if (json) {
    io.out(`${JSON.stringify({ config: path, board: board?.title ?? null, faults, warnings, findings }, null, 2)}\n`);
    return;
  }
  io.out(`configuration: ${path ?? 'every default'}\n`);
  io.out(`board: ${board === null ? 'not looked at; the configuration comes first' : board.title}\n\n`);
  for (const one of findings) io.out(findingText(one));
  io.out(`\n${counted(faults, 'fault')}, ${counted(warnings, 'warning')}\n`);
  if (faults > 0 && board !== null) io.out(hanging('  ! ', `${cautions.flash} ${cautions.general}`));
};

const command: Command = {
  name: 'check',
  summary: 'the configuration, and what of it this board lacks',
  usage: '[--config FILE] [--board FILE] [--save FILE]',
  detail: `Looks and touches nothing. Faults of the configuration come first, all at once (exit code 2); then what the board lacks
(exit code 4): lines, devices, permissions, formats, speed, supply, coil, paper, disk, clock. Warnings alone are exit code 0.

At a desk: slipshutter check --config my.json --board board.json, where board.json was written on the board by --save.`,
  options: {
    config: { type: 'string', value: 'FILE', help: 'configuration to check' },
    board: { type: 'string', value: 'FILE', help: 'description of a board, instead of this machine' },
    save: { type: 'string', value: 'FILE', help: 'writes down what was found of this board, for --board' },
    user: {
      type: 'string',
      value: 'NAME',
      help: 'who runs the camera: slipshutter where there is such a user, else you',
    },
    json: { type: 'boolean', help: 'one object with every finding' },
  },
  async run(given, io) {
    const { positionals, values } = given;
    if (positionals.length > 0)
      throw new Fault('usage', `'${positionals[0]}' is one argument too many`, 'see slipshutter check --help');
    const json = values.json === true;
    const path = findConfigPath(textOption(given, 'config'));
    const { settings, findings } = readSettings(path);
    if (settings === null) {
      report(io, json, path, null, findings);
      return 2;
    }
    const { config, profile } = settings;
    const board = await readBoard(textOption(given, 'board'), config, textOption(given, 'user') ?? usualUser());
    const target = textOption(given, 'save');
    if (target !== undefined) save(target, board);
    const all = findAll({ config, profile, board });
    report(io, json, path, board, all);
    return all.some(one => one.gravity === 'fault') ? 4 : 0;
  },
};

export default command;
