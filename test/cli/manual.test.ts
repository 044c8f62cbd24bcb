import { execFileSync } from 'node:child_process';
import { existsSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import type { Command } from '../../src/cli/command.ts';
import { bashCompletion, manualPage } from '../../src/cli/manual.ts';

const commands: Command[] = [
  {
    name: 'proof',
    summary: 'shows it',
    usage: 'PHOTO...',
    detail: ".hidden line\n'quoted line",
    options: {
      out: { type: 'string', value: 'FILE', short: 'o', help: 'where to' },
      print: { type: 'boolean', help: 'on paper' },
    },
    run: () => 0,
  },
  { name: 'album', summary: 'lists', usage: '', detail: '', options: {}, run: () => 0 },
];

const complete = (words: string[]): string[] =>
  execFileSync(
    'bash',
    [
      '-c',
      `${bashCompletion(commands)}\nCOMP_WORDS=(${words.map(word => `'${word}'`).join(' ')}); COMP_CWORD=${words.length - 1}; _slipshutter; printf '%s\\n' "\${COMPREPLY[@]}"`,
    ],
    { encoding: 'utf8' },
  )
    .split('\n')
    .filter(Boolean);

describe.skipIf(!existsSync('/bin/bash'))('completion (pending where bash is not installed)', () => {
  it('completes commands, then options', () => {
    expect(complete(['slipshutter', ''])).toEqual(['proof', 'album']);
    expect(complete(['slipshutter', 'pr'])).toEqual(['proof']);
    expect(complete(['slipshutter', 'proof', '--'])).toEqual(['--out', '--print', '--help']);
  });
});

describe('manual page', () => {
  it('holds every command and option, and no line that roff would take for a request', () => {
    const page = manualPage(commands);
    expect(page).toContain('.SS "proof PHOTO...');
    expect(page).toContain('\\fB\\-\\-out\\fR \\fIFILE\\fR');
    expect(page).toContain('\\&.hidden line');
    expect(page).toContain("\\&'quoted line");
  });
});
