import type { Command } from './command.ts';
import { version } from './version.ts';

const roff = (text: string): string =>
  text
    .replace(/\\/g, '\\e')
    .replace(/-/g, '\\-')
    .replace(/^([.'])/gm, '\\&$1');

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
.PP
.nf
${roff(command.detail.trimEnd())}
.fi
${optionLines(command)}`,
  )
  .join('')}.SH EXIT STATUS
0 done; 1 a fault of the program; 2 usage or configuration; 3 compared and differs; 4 a part is missing or failed; 5 input unreadable.
.SH CAUTIONS
Heads, coils, motors and lithium cells burn; old bodies may hold a charged flash capacitor.
Local rules and qualified people come first.
`;

const words = (command: Command): string =>
  [...Object.keys(command.options), 'help'].map(name => `--${name}`).join(' ');

/** Completion for bash: commands, then a command's own options, files where it takes none of them. */
export const bashCompletion = (
  commands: readonly Command[],
): string => `# bash completion for slipshutter, generated from its table of commands
_slipshutter() {
  local word=\${COMP_WORDS[COMP_CWORD]}
  if [ "$COMP_CWORD" -eq 1 ]; then
    COMPREPLY=($(compgen -W "${commands.map(({ name }) => name).join(' ')}" -- "$word"))
    return
  fi
  local options=
  case \${COMP_WORDS[1]} in
${commands.map(command => `    ${command.name}) options="${words(command)}" ;;\n`).join('')}  esac
  case $word in
    -*) COMPREPLY=($(compgen -W "$options" -- "$word")) ;;
    *) COMPREPLY=($(compgen -f -- "$word")) ;;
  esac
}
complete -o filenames -F _slipshutter slipshutter
`;
