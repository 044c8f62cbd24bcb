import { findConfigPath, loadConfig } from '../config/load.ts';
import { loadProfile } from '../config/load-profile.ts';
import { profileSchema } from '../config/profile.ts';
import { configSchema } from '../config/schema.ts';
import { inspectSettings } from '../config/settings.ts';
import { Fault } from '../parts/fault.ts';
import { bootSheet } from '../workshop/reckon/boot.ts';
import { coilSheet } from '../workshop/reckon/coil.ts';
import { type ExtraName, extras, type Given as Figures, lengths } from '../workshop/reckon/inputs.ts';
import { lineSheet } from '../workshop/reckon/line.ts';
import { paperSheet } from '../workshop/reckon/paper.ts';
import { type Sheet, sheetText } from '../workshop/reckon/sheet.ts';
import { supplySheet } from '../workshop/reckon/supply.ts';
import type { Command } from './command.ts';
import { textOption } from './given.ts';
import { nearest } from './nearest.ts';

const sheets: Record<string, (figures: Figures) => Sheet> = {
  supply: supplySheet,
  coil: coilSheet,
  paper: paperSheet,
  line: lineSheet,
  boot: bootSheet,
};
const names = Object.keys(sheets);

const usage = (message: string, mend: string) => new Fault('usage', message, mend);

type Tree = Record<string, unknown>;

/** Sets `a.b` to a number in a copy; only names that are there. */
const put = (tree: Tree, path: readonly string[], value: number): Tree | null => {
  const [name, ...rest] = path;
  if (!Object.hasOwn(tree, name)) return null;
  if (rest.length === 0) return typeof tree[name] === 'number' ? { ...tree, [name]: value } : null;
  const inside = tree[name];
  if (typeof inside !== 'object' || inside === null) return null;
  const changed = put(inside as Tree, rest, value);
  return changed && { ...tree, [name]: changed };
};

const numbersOf = (tree: Tree, prefix: string): string[] =>
  Object.entries(tree).flatMap(([name, value]) => {
    if (typeof value === 'number') return [`${prefix}${name}`];
    const isGroup = typeof value === 'object' && value !== null && !Array.isArray(value);
    return isGroup ? numbersOf(value as Tree, `${prefix}${name}.`) : [];
  });

const inRange = (setting: string, value: number, { least, most }: { least: number; most: number }): number => {
  if (value >= least && value <= most) return value;
  throw usage(`--set ${setting}: allowed are ${least} to ${most}`, '');
};

/** What `--set` says instead of configuration, profile and usual values; checked as those are. */
const applySettings = (figures: Figures, settings: readonly string[]): Figures => {
  let { config, profile } = figures;
  const given: Record<string, number> = { ...figures.extras };
  for (const setting of settings) {
    const [, name, text] = /^([A-Za-z.]+)=(.*)$/.exec(setting) ?? [];
    const value = text === undefined || text.trim() === '' ? Number.NaN : Number(text);
    if (name === undefined || !Number.isFinite(value))
      throw usage(`--set ${setting}: a name, =, and a number are expected`, 'for instance --set supply.coilOhm=14');
    if (Object.hasOwn(lengths, name)) given[name] = inRange(setting, value, lengths[name as keyof typeof lengths]);
    else if (Object.hasOwn(extras, name)) given[name] = inRange(setting, value, extras[name as ExtraName]);
    else {
      const isProfile = name.startsWith('profile.');
      const path = (isProfile ? name.slice(8) : name).split('.');
      const changed = put(isProfile ? profile : config, path, value);
      if (!changed) {
        const known = [
          ...Object.keys(extras),
          ...Object.keys(lengths),
          ...numbersOf(config, ''),
          ...numbersOf(profile, 'profile.'),
        ];
        const near = nearest(name, known);
        throw usage(
          `--set: there is no figure '${name}'`,
          near ? `did you mean '${near}'?` : 'the sheet lists its figures',
        );
      }
      const inspected = inspectSettings(JSON.stringify(changed), isProfile ? profileSchema : configSchema);
      if (!inspected.value) throw usage(`--set ${setting}: ${inspected.faults[0].mend}`, '');
      if (isProfile) profile = inspected.value as Figures['profile'];
      else config = inspected.value as Figures['config'];
    }
  }
  return { config, profile, extras: given };
};

const command: Command = {
  name: 'reckon',
  summary: 'supply, coil, paper, line and boot: the sums',
  usage: 'supply | coil | paper | line | boot [LOG]',
  detail: `supply  head current, sag and the pulse that makes up for it, hours and pictures of the battery
coil    current, time constant, duty, warmth, release with diode and zener, MOSFET
paper   length of the roll and pictures on it
line    whether wire, head and motor go together
boot    what a slow console costs; with a LOG, a captured serial console, its figures and where the time of that boot went

Each sheet gives its inputs, formulas and their sources. Inputs come from the configuration and the printer's profile.
slipshutter reckon coil --set supply.coilOhm=12 --set coilRiseK=60
slipshutter reckon supply --set profile.head.elementOhm=166 --json`,
  words: names,
  options: {
    config: { type: 'string', value: 'FILE', help: 'configuration whose figures are used' },
    set: {
      type: 'string',
      value: 'NAME=VALUE',
      multiple: true,
      help: 'another figure for this once; several may be given',
    },
    json: { type: 'boolean', help: 'one object: inputs, results, warnings, notes, cautions' },
  },
  async run({ positionals: [name, ...rest], values }, io) {
    const make = name === undefined ? undefined : sheets[name];
    if (!make || !Object.hasOwn(sheets, name)) {
      const near = name === undefined ? null : nearest(name, names);
      throw usage(
        name === undefined ? `reckon what? one of ${names.join(', ')}` : `reckon can’t '${name}'`,
        near ? `did you mean '${near}'?` : 'see slipshutter reckon --help',
      );
    }
    if (rest.length > (name === 'boot' ? 1 : 0))
      throw usage(`'${rest.at(-1)}' is one argument too many`, 'see slipshutter reckon --help');
    const { config, path } = loadConfig(findConfigPath(textOption({ values }, 'config')));
    const base: Figures = { config, profile: loadProfile(config.printer.profile, path), extras: {} };
    const settings = Array.isArray(values.set) ? values.set.map(String) : [];
    const [log] = rest;
    if (log === undefined) {
      const sheet = make(applySettings(base, settings));
      io.out(values.json === true ? `${JSON.stringify(sheet, null, 2)}\n` : sheetText(sheet));
      return 0;
    }
    const { readBoot } = await import('../workshop/reckon/measured-boot.ts');
    const { bootReport } = await import('../console/boot-report.ts');
    const boot = readBoot(log);
    const { kernel, manager, own, other } = boot.bytes;
    const measured = { bootBytes: kernel + manager + own + other, ...(boot.baud ? { consoleBaud: boot.baud } : {}) };
    const figures = applySettings({ ...base, extras: measured }, settings);
    const sheet = make(figures);
    const baud = figures.extras.consoleBaud ?? null;
    if (values.json === true) io.out(`${JSON.stringify({ ...sheet, boot }, null, 2)}\n`);
    else io.out(`${sheetText(sheet)}\n${bootReport(boot, { baud, colour: io.outIsTerminal })}`);
    return 0;
  },
};

export default command;
