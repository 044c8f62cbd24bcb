import { existsSync, mkdtempSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { type Belonging, carryOut, planEnlisting, planRemoval } from '../../../src/workshop/enlist/plan.ts';

const belongings: Belonging[] = [
  { path: '/etc/systemd/system/a.service', content: 'unit', mode: 0o644 },
  { path: '/etc/slipshutter/slipshutter.json', content: '{}', mode: 0o644, theirs: true },
  { path: '/usr/local/bin/slipshutter', content: '#!/bin/sh\n', mode: 0o755 },
];

describe('enlisting in a folder root', () => {
  it('puts everything in place, says what is the same, and takes away only what is still its own', () => {
    const root = mkdtempSync(join(tmpdir(), 'enlist-'));
    const first = planEnlisting(root, belongings);
    expect(first.map(({ what }) => what)).toEqual(['put', 'put', 'put']);
    expect(existsSync(join(root, 'etc'))).toBe(false);
    carryOut(root, belongings, first);
    expect(readFileSync(join(root, 'etc/systemd/system/a.service'), 'utf8')).toBe('unit');
    expect(statSync(join(root, 'usr/local/bin/slipshutter')).mode & 0o777).toBe(0o755);
    expect(planEnlisting(root, belongings).map(({ what }) => what)).toEqual(['same', 'same', 'same']);

    writeFileSync(join(root, 'etc/slipshutter/slipshutter.json'), '{ "mine": 1 }');
    writeFileSync(join(root, 'etc/systemd/system/a.service'), 'changed by hand');
    expect(planEnlisting(root, belongings).map(({ what }) => what)).toEqual(['renew', 'keep', 'same']);
    const removal = planRemoval(root, belongings);
    expect(removal.map(({ what }) => what)).toEqual(['differs', 'keep', 'remove']);
    carryOut(root, belongings, removal);
    expect(existsSync(join(root, 'usr/local/bin/slipshutter'))).toBe(false);
    expect(readFileSync(join(root, 'etc/slipshutter/slipshutter.json'), 'utf8')).toContain('mine');
  });

  it('says which file it may not write', () => {
    const root = mkdtempSync(join(tmpdir(), 'enlist-'));
    writeFileSync(join(root, 'etc'), 'not a folder');
    const plan = belongings.slice(0, 1).map(({ path }) => ({ what: 'put' as const, path }));
    expect(() => carryOut(root, belongings, plan)).toThrow(/a\.service/);
  });
});
