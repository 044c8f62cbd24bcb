import { mkdirSync, mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import enlist from '../../src/cli/enlist.ts';
import { textOption } from '../../src/cli/given.ts';
import wedge from '../../src/cli/wedge.ts';
import { tryCommand } from './io.ts';

describe('an option that takes a value', () => {
  it('is left out, has one, or is refused for being empty', () => {
    expect(textOption({ values: {} }, 'out')).toBeUndefined();
    expect(textOption({ values: { out: 'proofs' } }, 'out')).toBe('proofs');
    expect(() => textOption({ values: { out: '' } }, 'out')).toThrow('--out is empty');
  });

  it('left empty by a script’s variable never means the board itself, or the current folder', async () => {
    const { fault } = await tryCommand(enlist, [], { root: '', write: true });
    expect(fault).toMatchObject({
      code: 'usage',
      message: '--root is empty',
      mend: expect.stringMatching(/leave it out/),
    });
    expect((await tryCommand(wedge, ['print'], { out: '' })).fault?.message).toBe('--out is empty');
  });

  it('that names a folder where a file should go leaves nothing beside it', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'given-'));
    const target = join(folder, 'there');
    mkdirSync(join(target, 'full'), { recursive: true });
    const { fault } = await tryCommand(wedge, ['print'], { out: target });
    expect(fault?.code).toBe('unwritable');
    expect(readdirSync(folder)).toEqual(['there']);
    rmSync(folder, { recursive: true });
  });
});
