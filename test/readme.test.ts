import { copyFileSync, existsSync, mkdtempSync, readFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { callCommand } from '../src/cli/execute.ts';
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

const photos = '/usr/lib/python3/dist-packages/skimage/data';
/** Why a quotation can't be held against this machine, or ''. */
const pendingFor = (command: string): string => {
  if (command.startsWith('album')) return 'it was quoted from the emulated board';
  if (command.startsWith('proof') && !existsSync(photos)) return 'needs python3-skimage for its photos';
  if (command.startsWith('check') && existsSync('/dev/serial0')) return 'this machine has what is said to be missing';
  if (command.startsWith('enlist') && existsSync('/etc/slipshutter')) return 'the service is on this machine';
  return '';
};

const said = async (command: string): Promise<string[]> => {
  const [name, ...args] = command.split(' ');
  const row = table.find(one => one.name === name);
  if (!row) throw new Error(`there is no command ${name}`);
  let out = '';
  const heard = (text: string) => {
    out += text;
  };
  await callCommand((await row.load()).default, args, {
    out: heard,
    err: heard,
    stdin: process.stdin,
    outIsTerminal: false,
    errIsTerminal: false,
    signal: new AbortController().signal,
  });
  return out.split('\n').map(line => line.trimEnd());
};

/** Speed is this machine's and doesn't count; everything else is reckoned on the camera's own clock. */
const timeless = (line: string): string => line.replace(/\d+ × life/, '… × life');
const shapeOf = (line: string): string => line.replace(/\d[\d.,]*/g, '#').replace(/ +/g, ' ');

/** The quoted lines as they come now: each the next one of its shape. Throws where none has it. */
const renewed = (quoted: readonly string[], come: readonly string[]): string[] => {
  let at = 0;
  return quoted.map(line => {
    const there = come.findIndex((one, i) => i >= at && timeless(one) === timeless(line));
    const found = there >= 0 ? there : come.findIndex((one, i) => i >= at && shapeOf(one) === shapeOf(line));
    if (found < 0) throw new Error(`“${line}” is quoted, but doesn’t come:\n${come.join('\n')}`);
    at = found + 1;
    return there >= 0 ? line : come[found];
  });
};

/** A code block: commands after `$ slipshutter`, each with the lines of its output that are shown, in order. */
const blocks = /^```\w*\n(.*?)^```/gms;
const quotesOf = (block: string): { command: string; lines: string[] }[] =>
  block
    .split(/^\$ slipshutter /m)
    .slice(1)
    .map(text => {
      const [command, ...lines] = text.trimEnd().split('\n');
      return { command, lines };
    });

// When output has changed: npx vitest run --config test/vitest.config.ts test/readme.test.ts -u
describe('what the README quotes is what comes', () => {
  const commands = [...readme.matchAll(blocks)].flatMap(([, block]) => quotesOf(block)).map(({ command }) => command);
  const home = process.cwd();
  const zone = process.env.TZ;
  const come = new Map<string, string[]>();
  beforeAll(() => {
    process.chdir(mkdtempSync(join(tmpdir(), 'slipshutter-readme-')));
    process.env.TZ = 'UTC';
    for (const name of ['coffee.png', 'chelsea.png'])
      if (existsSync(join(photos, name))) copyFileSync(join(photos, name), name);
  });
  afterAll(() => {
    process.chdir(home);
    process.env.TZ = zone;
  });

  it('shows each command at work, but the service itself', () => {
    const shown = new Set(commands.map(command => command.split(' ')[0]));
    expect(table.map(({ name }) => name).filter(name => !shown.has(name))).toEqual(['run']);
  });

  // One after another: a later one reads what an earlier one left.
  for (const command of commands) {
    const pending = pendingFor(command);
    it.skipIf(pending !== '')(`${command}${pending && ` (${pending})`}`, { timeout: 180_000 }, async () => {
      come.set(command, await said(command));
    });
  }

  it('to the letter', async () => {
    const now = readme.replace(blocks, (whole, block: string) =>
      quotesOf(block).reduce((text, { command, lines }) => {
        const output = come.get(command);
        const of = (shown: readonly string[]) => `$ slipshutter ${[command, ...shown].join('\n')}\n`;
        return output ? text.replace(of(lines), () => of(renewed(lines, output))) : text;
      }, whole),
    );
    await expect(now).toMatchFileSnapshot('../README.md');
  });
});
