import type { Command, OptionEntry } from './command.ts';
import type { TableRow } from './table.ts';

const columns = (rows: readonly (readonly [string, string])[]): string => {
  const width = Math.max(...rows.map(([left]) => left.length));
  return rows.map(([left, right]) => `  ${left.padEnd(width)}  ${right}\n`).join('');
};

export const overview = (rows: readonly Pick<TableRow, 'name' | 'summary'>[]): string =>
  `slipshutter: a camera that gives its pictures on receipt paper, and the tools around it

${columns(rows.map(({ name, summary }) => [name, summary]))}
slipshutter COMMAND --help says more of one. --version says which this is.
`;

const optionName = (name: string, { short, value, type }: OptionEntry): string =>
  `${short ? `-${short}, ` : ''}--${name}${type === 'string' ? ` ${value ?? 'VALUE'}` : ''}`;

export const commandHelp = (command: Command): string =>
  `slipshutter ${command.name} ${command.usage}\n  ${command.summary}\n\n${columns([
    ...Object.entries(command.options).map(([name, option]): [string, string] => [
      optionName(name, option),
      option.help,
    ]),
    ['-h, --help', 'this text'],
  ])}${command.detail ? `\n${command.detail.trimEnd()}\n` : ''}`;
