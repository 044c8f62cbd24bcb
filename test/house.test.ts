import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';

const root = new URL('..', import.meta.url).pathname;
const filesUnder = (folder: string): string[] =>
  readdirSync(`${root}${folder}`, { recursive: true, encoding: 'utf8' })
    .filter(name => name.endsWith('.ts'))
    .map(name => `${folder}/${name}`);
const read = (file: string) => readFileSync(`${root}${file}`, 'utf8');
const withoutComments = (text: string) => text.replace(/\/\*[\s\S]*?\*\//g, '').replace(/(^|\s)\/\/.*$/gm, '');
const offenders = (files: string[], banned: RegExp) => files.filter(file => banned.test(withoutComments(read(file))));

const core = ['src/machine', 'src/print', 'src/picture', 'src/album', 'src/roll', 'src/parts'].flatMap(filesUnder);
const simulator = filesUnder('sim').filter(file => !file.startsWith('sim/live/'));
const source = filesUnder('src');

/** House rules, each with what to use instead. */
const rules: { rule: string; files: string[]; banned: RegExp }[] = [
  {
    rule: 'the core asks the Clock port for the time',
    files: [...core, ...simulator],
    banned: /\bDate\.now\(|\bperformance\.now\(|process\.hrtime/,
  },
  {
    rule: 'the core sets timers by clock.after',
    files: [...core, ...simulator],
    banned: /\b(setTimeout|setInterval|setImmediate)\(/,
  },
  {
    rule: 'the core draws no chance of its own; the simulator uses sim/random.ts',
    files: [...core, ...simulator],
    banned: /Math\.random\(/,
  },
  {
    rule: 'machine, print and album wait by callbacks, never by promises',
    files: core.filter(file => !file.startsWith('src/picture')),
    banned: /\basync\b|\bawait\b/,
  },
  {
    rule: 'only the program ends the process',
    files: source.filter(file => !file.startsWith('src/cli/')),
    banned: /process\.exit\(/,
  },
  {
    rule: 'the machine knows no Linux and no printer bytes',
    files: filesUnder('src/machine'),
    banned: /from '(\.\.\/(linux|print|picture|cli|console\/(?!vocabulary))|node:)/,
  },
  {
    rule: 'the simulator decodes bytes on its own',
    files: [...filesUnder('sim/printer'), ...filesUnder('sim/paper')],
    banned: /src\/print\//,
  },
];

describe('house rules', () => {
  it.each(rules)('$rule', ({ files, banned }) => {
    expect(files.length).toBeGreaterThan(0);
    expect(offenders(files, banned)).toEqual([]);
  });

  it('src imports sim only in commands, lazily', () => {
    const statically = source.filter(file => /^import (?!type)[^;]*from '[./]*\/sim\//m.test(read(file)));
    const lazily = source.filter(file => /import\('[./]*\/sim\//.test(read(file)));
    expect(statically.filter(file => !file.startsWith('src/cli/'))).toEqual([]);
    expect(lazily.filter(file => !file.startsWith('src/cli/'))).toEqual([]);
  });
});
