import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { table } from '../src/cli/table.ts';
import { patterns } from '../src/machine/signals.ts';

const readme = readFileSync(new URL('../README.md', import.meta.url), 'utf8');

describe('README', () => {
  it.each(Object.entries(patterns))('tells what the lamp means by %s', (_, { means }) => {
    const [look, meaning] = means.split(/: (.*)/s);
    expect(readme).toContain(`| ${look} | ${meaning} |`);
  });

  it.each(table.map(({ name }) => name))('names the command %s', name => {
    expect(readme).toMatch(new RegExp(`\`${name}[ \`]`));
  });
});
