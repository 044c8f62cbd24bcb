import { execFileSync, spawnSync } from 'node:child_process';
import { existsSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import type { Command } from '../../src/cli/command.ts';
import { bashCompletion, manualPage } from '../../src/cli/manual.ts';
import { table } from '../../src/cli/table.ts';

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

const all: Command[] = await Promise.all(table.map(async row => (await row.load()).default));

const complete = (list: readonly Command[], words: string[]): string[] =>
  execFileSync(
    'bash',
    [
      '-c',
      `${bashCompletion(list)}\nCOMP_WORDS=(${words.map(word => `'${word}'`).join(' ')}); COMP_CWORD=${words.length - 1}; _slipshutter; printf '%s\\n' "\${COMPREPLY[@]}"`,
    ],
    { encoding: 'utf8' },
  )
    .split('\n')
    .filter(Boolean);

describe.skipIf(!existsSync('/bin/bash'))('completion (pending where bash is not installed)', () => {
  it('completes commands, then options; files are left to bash', () => {
    expect(complete(commands, ['slipshutter', ''])).toEqual(['proof', 'album', '--help', '--version']);
    expect(complete(commands, ['slipshutter', 'pr'])).toEqual(['proof']);
    expect(complete(commands, ['slipshutter', 'proof', '--'])).toEqual(['--out', '--print', '--help']);
    expect(complete(commands, ['slipshutter', 'proof', ''])).toEqual([]);
  });

  it('completes the words that a command knows, but not where an option’s value stands', () => {
    expect(complete(all, ['slipshutter', 'reckon', 'p'])).toEqual(['paper']);
    expect(complete(all, ['slipshutter', 'tryout', '--virtual', 'sh'])).toEqual(['shutter']);
    expect(complete(all, ['slipshutter', 'tryout', 'lamp', '--config', ''])).toEqual([]);
    expect(complete(all, ['slipshutter', 'album', 're'])).toEqual(['reprint']);
    for (const { name } of all) expect(complete(all, ['slipshutter', name, '--he'])).toEqual(['--help']);
  });

  it('is taken in by bash without a word', () => {
    expect(execFileSync('bash', ['-euo', 'pipefail', '-c', bashCompletion(all)], { encoding: 'utf8' })).toBe('');
  });
});

const hasGroff = (): boolean => {
  try {
    return execFileSync('groff', ['--version'], { encoding: 'utf8' }) !== '';
  } catch {
    return false;
  }
};

describe('manual page', () => {
  it('holds every command and option, and no line that roff would take for a request', () => {
    const page = manualPage(commands);
    expect(page).toContain('.SS "proof PHOTO...');
    expect(page).toContain('\\fB\\-\\-out\\fR \\fIFILE\\fR');
    expect(page).toContain('\\&.hidden line');
    expect(page).toContain('\n\\(aqquoted line');
    expect(manualPage(all)).toMatch(/^\p{ASCII}*$/u);
  });

  it.skipIf(!hasGroff())(
    'is set without a warning, and shows every option (pending where groff is not installed)',
    () => {
      const { stdout, stderr, status } = spawnSync('groff', ['-man', '-Tutf8', '-ww', '-P-cbou'], {
        input: manualPage(all),
        encoding: 'utf8',
      });
      expect([status, stderr]).toEqual([0, '']);
      const shown = stdout.replace(/\s+/g, ' ');
      for (const command of all) {
        expect(shown).toContain(command.summary);
        for (const name of Object.keys(command.options)) expect(shown).toContain(`--${name}`);
        // Examples stand as they are typed.
        for (const example of command.detail.match(/^ *slipshutter .*$/gm) ?? [])
          expect(stdout).toContain(example.trim());
      }
    },
  );
});
