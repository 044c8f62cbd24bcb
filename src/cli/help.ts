import { foldLines, hanging } from '../fold.ts';
import type { Command, OptionEntry } from './command.ts';
import type { TableRow } from './table.ts';

const columns = (rows: readonly (readonly [string, string])[]): string => {
  const width = Math.max(...rows.map(([left]) => left.length));
  return rows.map(([left, right]) => hanging(`  ${left.padEnd(width)}  `, right)).join('');
};

export const overview = (rows: readonly Pick<TableRow, 'name' | 'summary'>[]): string =>
  `slipshutter: a camera that gives its pictures on receipt paper, and the tools around it

${columns(rows.map(({ name, summary }) => [name, summary]))}
slipshutter COMMAND --help says more of one. --version says which this is.
`;

const optionName = (name: string, { short, value, type }: OptionEntry): string =>
  `${short ? `-${short}, ` : ''}--${name}${type === 'string' ? ` ${value ?? 'VALUE'}` : ''}`;

/** Examples and what stands in columns: such lines are kept where prose is filled to the width of a page. */
export const isLaidOut = (line: string): boolean => /^ |^slipshutter |\S {2,}\S/.test(line);

/** A detail text for the screen: prose is filled, what stands in columns is folded under its last. */
const detailText = (detail: string): string => {
  const prose: string[] = [];
  const filled = () => (prose.length > 0 ? `${foldLines(prose.splice(0).join(' ')).join('\n')}\n` : '');
  let text = '';
  for (const line of detail.trimEnd().split('\n')) {
    if (line !== '' && !isLaidOut(line)) prose.push(line);
    else {
      const [lead] = /^ *\S.*? {2,}(?=\S)/.exec(line) ?? [''];
      text += filled() + (lead === '' ? `${line}\n` : hanging(lead, line.slice(lead.length)));
    }
  }
  return text + filled();
};

export const commandHelp = (command: Command): string =>
  `${hanging(`slipshutter ${command.name} `, command.usage).replace(/ $/m, '')}  ${command.summary}\n\n${columns([
    ...Object.entries(command.options).map(([name, option]): [string, string] => [
      optionName(name, option),
      option.help,
    ]),
    ['-h, --help', 'this text'],
  ])}${command.detail ? `\n${detailText(command.detail)}` : ''}`;
