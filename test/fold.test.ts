import { describe, expect, it } from 'vitest';
import { commandHelp } from '../src/cli/help.ts';
import { table } from '../src/cli/table.ts';
import { foldLines, hanging } from '../src/fold.ts';

describe('folding', () => {
  it('breaks between words only, and keeps a word that is too long whole', () => {
    expect(foldLines('one two three', 7)).toEqual(['one two', 'three']);
    expect(foldLines('one overlong two', 4)).toEqual(['one', 'overlong', 'two']);
    expect(foldLines('', 7)).toEqual(['']);
  });

  it('hangs further lines under the words of the first', () => {
    expect(hanging(`  ${'-'.repeat(70)}  `, 'one two three')).toBe(
      `  ${'-'.repeat(70)}  one\n${' '.repeat(74)}two\n${' '.repeat(74)}three\n`,
    );
  });

  it.each(table.map(row => [row.name, row] as const))('help of %s fits a screen of 80 columns', async (_, row) => {
    const { default: command } = await row.load();
    const help = commandHelp(command);
    const examples = command.detail.split('\n').map(line => line.trim());
    for (const line of help.split('\n')) {
      expect(line).toBe(line.trimEnd());
      // An example is kept in one line, so that it can be copied.
      if (!examples.includes(line.trim())) expect([...line].length).toBeLessThanOrEqual(80);
    }
  });
});
