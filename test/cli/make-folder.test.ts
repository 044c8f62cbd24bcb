import { existsSync, mkdtempSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { makeFolder } from '../../src/cli/make-folder.ts';
import { openOutFolder } from '../../src/cli/out-folder.ts';

const place = mkdtempSync(join(tmpdir(), 'folders-'));
afterAll(() => rmSync(place, { recursive: true }));

describe('a folder that a person named', () => {
  it('is made with those above it, and may be there already', () => {
    const deep = join(place, 'a', 'b', 'c');
    makeFolder(deep);
    makeFolder(deep);
    expect(statSync(deep).isDirectory()).toBe(true);
  });

  it('is refused where a file stands in its way', () => {
    writeFileSync(join(place, 'file'), '');
    expect(() => makeFolder(join(place, 'file', 'x'))).toThrow(/ENOTDIR|EEXIST/);
    expect(() => openOutFolder(join(place, 'file'))).toThrow(/can’t be written/);
  });

  it.skipIf(!existsSync('/proc/self'))('is refused, not tried for ever, where none can be (needs /proc)', () => {
    expect(() => makeFolder('/proc/no-such-folder/x')).toThrow(/ENOENT|EACCES/);
  });
});
