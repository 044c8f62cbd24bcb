import type { Command } from './command.ts';
import { isLaidOut } from './help.ts';
import { version } from './version.ts';

const escapes: Record<string, string> = {
  '\\': '\\e',
  '-': '\\-',
  "'": '\\(aq',
  '`': '\\(ga',
  '^': '\\(ha',
  '~': '\\(ti',
};

/** Text as roff shows it, sign for sign; what isn't ASCII by its code, so that no locale is needed. */
const roff = (text: string): string =>
  text
    .replace(/[\\\-'`^~]/g, sign => escapes[sign])
    .replace(/\P{ASCII}/gu, sign => `\\[u${sign.codePointAt(0)?.toString(16).toUpperCase().padStart(4, '0')}]`)
    .replace(/^\./gm, '\\&.');

/** Prose is filled to the width of the page; examples and what stands in columns keep their lines. */
const detailText = (detail: string): string => {
  const lines = detail.trimEnd().split('\n');
  return lines
    .map((line, i) => {
      if (line === '') return '.PP\n';
      const laidOut = isLaidOut(line);
      const begins = laidOut && !(i > 0 && isLaidOut(lines[i - 1]));
      const ends = laidOut && !(i + 1 < lines.length && isLaidOut(lines[i + 1]));
      return `${begins ? '.PP\n.nf\n' : ''}${roff(line)}\n${ends ? '.fi\n' : ''}`;
    })
    .join('')
    .replaceAll('.PP\n.PP\n', '.PP\n')
    .replace(/\.PP\n$/, '');
};

const optionLines = (command: Command): string =>
  Object.entries(command.options)
    .map(([name, option]) => {
      const value = option.type === 'string' ? ` \\fI${roff(option.value ?? 'VALUE')}\\fR` : '';
      const short = option.short ? `\\fB\\-${option.short}\\fR, ` : '';
      return `.TP\n${short}\\fB\\-\\-${roff(name)}\\fR${value}\n${roff(option.help)}\n`;
    })
    .join('');

/** slipshutter(1), in man(7) macros, from the commands themselves. */
export const manualPage = (commands: readonly Command[]): string => `.TH SLIPSHUTTER 1 "" "slipshutter ${version}"
.SH NAME
slipshutter \\- a camera that gives its pictures on receipt paper, and the tools around it
.SH SYNOPSIS
.B slipshutter
.I COMMAND
[\\fIoptions\\fR] [\\fIarguments\\fR]
.SH COMMANDS
${commands
  .map(
    command => `.SS "${roff(command.name)} ${roff(command.usage).replace(/"/g, '')}"
${roff(command.summary)}
${command.detail.trim() === '' ? '' : `.PP\n${detailText(command.detail)}`.replace('.PP\n.PP\n', '.PP\n')}${optionLines(command)}`,
  )
  .join('')}.SH EXIT STATUS
0 done; 1 a fault of the program; 2 usage or configuration; 3 compared and differs; 4 a part is missing or failed; 5 input unreadable.
.SH FILES
.TP
.I /etc/slipshutter/slipshutter.json
configuration of the service; JSON with comments, each setting with its default, range and unit
.TP
.I /var/lib/slipshutter/album
pictures that were taken
.SH CAUTIONS
Heads, coils, motors and lithium cells burn; old bodies may hold a charged flash capacitor.
Local rules and qualified people come first.
`;

const optionWords = ({ options }: Command): string =>
  [...Object.keys(options), 'help'].map(name => `--${name}`).join(' ');
/** Options that a value follows, which is mostly a file. */
const valuedWords = ({ options }: Command): string =>
  Object.keys(options)
    .filter(name => options[name].type === 'string')
    .map(name => `--${name}`)
    .join(' ');
const completionRow = (command: Command): string =>
  `    ${command.name}) options="${optionWords(command)}" valued="${valuedWords(command)}" first="${(command.words ?? []).join(' ')}" ;;\n`;

/** Completion for bash: commands, then a command's options and first words; else bash completes files by itself. */
export const bashCompletion = (
  commands: readonly Command[],
): string => `# bash completion for slipshutter, generated from its table of commands
_slipshutter() {
  local word=\${COMP_WORDS[COMP_CWORD]} before=\${COMP_WORDS[COMP_CWORD - 1]} options= valued= first=
  COMPREPLY=()
  case \${COMP_WORDS[1]} in
${commands.map(completionRow).join('')}  esac
  if [ "$COMP_CWORD" -eq 1 ]; then
    first="${commands.map(({ name }) => name).join(' ')} --help --version"
  elif [[ $word == -* ]]; then
    first=$options
  elif [[ " $valued " == *" $before "* ]]; then
    first=
  fi
  if [ -n "$first" ]; then
    mapfile -t COMPREPLY < <(compgen -W "$first" -- "$word")
  fi
}
complete -o bashdefault -o default -F _slipshutter slipshutter
`;
