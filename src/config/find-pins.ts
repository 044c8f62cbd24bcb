import type { BoardFacts } from './board.ts';
import { linesInUse } from './consistent.ts';
import { deviceFindings } from './find-devices.ts';
import { type Checked, type Finding, finding } from './finding.ts';

type Chip = NonNullable<BoardFacts['chips']>[number];

const nearLines = ({ lines }: Chip): string => {
  const free = lines.filter(({ user }) => user === '').slice(0, 8);
  return free.map(({ offset, name }) => (name === '' ? `${offset}` : `${offset} (${name})`)).join(', ');
};

const findChip = (chips: readonly Chip[], wanted: string): Chip | undefined =>
  chips.find(({ name }) => name === wanted.replace(/^\/dev\//, '')) ?? chips.find(({ label }) => label === wanted);

const chipWhy = 'button, coil, lamp and motor hang on its lines';

const chipFinding = (chips: readonly Chip[], chip: string): Finding =>
  finding(
    'fault',
    'gpio.chip',
    `there is no GPIO chip '${chip}'`,
    chipWhy,
    chips.length === 0
      ? 'this board shows no GPIO chip: is its driver loaded?'
      : `choose one of: ${chips.map(({ name, label }) => (label === '' ? name : `${name} ('${label}')`)).join(', ')}`,
  );

/** What a program writes the number of a line into, to have it by sysfs. */
export const sysfsExport = '/sys/class/gpio/export';

const accessFindings = ({ config, board }: Checked): Finding[] => {
  const { access } = config.gpio;
  const packages = board.packages;
  if (!packages) return [];
  const byChip = packages.includes('koffi');
  const bySysfs = packages.includes('onoff') && board.sysfsGpio !== false;
  const can = access === 'chip' ? byChip : access === 'sysfs' ? bySysfs : byChip || bySysfs;
  if (can) return [];
  const wanted = access === 'chip' ? 'koffi' : access === 'sysfs' ? 'onoff' : 'koffi or onoff';
  const why = 'without it no line can be read or driven';
  if (access === 'sysfs' && board.sysfsGpio === false)
    return [
      finding('fault', 'gpio.access', 'this kernel has no GPIO in /sys/class/gpio', why, 'set gpio.access to chip'),
    ];
  return [
    finding(
      'fault',
      'gpio.access',
      `the package ${wanted} isn’t installed, or doesn’t load`,
      why,
      `npm install ${wanted.split(' ')[0]}`,
    ),
  ];
};

/** Chip, lines and their users; two parts on one pin, also under two names. */
export const findPins = (checked: Checked): Finding[] => {
  const { config, board } = checked;
  const used = linesInUse(config);
  const findings = used.length === 0 ? [] : accessFindings(checked);
  if (used.length === 0) return findings;
  if (config.gpio.access === 'sysfs' && board.sysfsGpio !== false)
    findings.push(...deviceFindings(checked, 'gpio.access', sysfsExport, 'no line can be had by sysfs', ''));
  const deviceOf = (path: string) =>
    config.gpio.access === 'sysfs' || !board.nodes[path]?.there
      ? []
      : deviceFindings(checked, 'gpio.chip', path, chipWhy, '');
  // Whoever may not open a chip can't list its lines either.
  if (!board.chips) return [...findings, ...deviceOf(`/dev/${config.gpio.chip.replace(/^\/dev\//, '')}`)];
  const chip = findChip(board.chips, config.gpio.chip);
  if (!chip) return [...findings, chipFinding(board.chips, config.gpio.chip)];
  findings.push(...deviceOf(`/dev/${chip.name}`));
  const taken = new Map<number, string>();
  for (const { path, line } of used) {
    const setting = path.join('.');
    if (typeof line === 'string' && config.gpio.access === 'sysfs') {
      findings.push(
        finding(
          'fault',
          setting,
          `'${line}' is a name`,
          'sysfs knows lines by their offset only',
          'give the offset, or set gpio.access to chip',
        ),
      );
      continue;
    }
    const there = chip.lines.find(({ offset, name }) => (typeof line === 'number' ? offset === line : name === line));
    if (!there) {
      const what = `${chip.name} has no line ${typeof line === 'number' ? line : `named '${line}'`}`;
      findings.push(
        finding('fault', setting, what, 'the part behind it can’t work', `free lines are ${nearLines(chip)}`),
      );
      continue;
    }
    const first = taken.get(there.offset);
    if (first !== undefined)
      findings.push(
        finding(
          'fault',
          setting,
          `it is the same pin as ${first}: ${there.offset}`,
          'two parts can’t share a line',
          `free lines are ${nearLines(chip)}`,
        ),
      );
    taken.set(there.offset, setting);
    if (there.user !== '' && !there.user.startsWith('slipshutter'))
      findings.push(
        finding(
          'fault',
          setting,
          `line ${there.offset} is in use by '${there.user}'`,
          'the kernel gives a line to one user only',
          'take that driver or overlay out of the boot configuration, end that program, or choose another line',
        ),
      );
  }
  return findings;
};

export const findLamp = (checked: Checked): Finding[] => {
  const { config, board } = checked;
  const { led } = config.lamp;
  if (led === '') return [];
  const why = 'the lamp says what the camera does';
  if (board.leds && !board.leds.includes(led)) {
    const mend = board.leds.length === 0 ? 'use lamp.line instead' : `there are ${board.leds.join(', ')}`;
    return [finding('fault', 'lamp.led', `there is no LED '${led}'`, why, mend)];
  }
  return deviceFindings(checked, 'lamp.led', `/sys/class/leds/${led}/brightness`, why, '');
};

/** The service's unit shuts off what these two need. */
export const findSandbox = ({ config }: Checked): Finding[] => {
  const wants = config.gpio.access === 'sysfs' ? 'gpio.access' : config.lamp.led === '' ? null : 'lamp.led';
  if (wants === null) return [];
  return [
    finding(
      'note',
      wants,
      'it is reached by writing into /sys, which the service’s unit makes read-only',
      'as a service the camera couldn’t drive it',
      'systemctl edit slipshutter.service, with ProtectKernelTunables=no under [Service]',
    ),
  ];
};
