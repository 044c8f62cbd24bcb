import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { afterAll, beforeAll, beforeEach, describe, expect, it, vi } from 'vitest';
import { settle } from '../../src/config/settle.ts';
import { keepSettled, readSettled } from '../../src/config/settled.ts';

describe('settings kept for the next start', () => {
  let folder: string;
  let path: string;
  const kept = () => readdirSync(folder).filter(name => name.startsWith('settings-'));
  const settled = () => settle(path);

  beforeAll(() => {
    folder = mkdtempSync(`${tmpdir()}/settled-`);
    path = `${folder}/config.json`;
    vi.stubEnv('CACHE_DIRECTORY', folder);
  });
  afterAll(() => {
    vi.unstubAllEnvs();
    rmSync(folder, { recursive: true });
  });
  beforeEach(() => {
    for (const name of kept()) rmSync(`${folder}/${name}`);
    writeFileSync(path, '{ "camera": { "name": "one" } }');
    vi.useFakeTimers();
    keepSettled(path, settled(), 'this program');
    vi.runAllTimers();
    vi.useRealTimers();
  });

  it('are those that were checked', () => expect(readSettled(path, 'this program')).toEqual(settled()));
  it('hold for no other program, nor for one that has no name', () => {
    expect(readSettled(path, 'another')).toBeNull();
    expect(readSettled(path, undefined)).toBeNull();
  });
  it('hold for no other file', () => {
    writeFileSync(path, '{ "camera": { "name": "two" } }');
    expect(readSettled(path, 'this program')).toBeNull();
    expect(readSettled(`${path}.other`, 'this program')).toBeNull();
  });
  it('are as if there were none when they are damaged', () => {
    const file = `${folder}/${kept()[0]}`;
    const whole = readFileSync(file);
    for (const at of [0, 12, whole.length >> 1, whole.length - 1]) {
      const damaged = Buffer.from(whole);
      damaged[at] ^= 1;
      writeFileSync(file, damaged);
      expect(readSettled(path, 'this program')).toBeNull();
    }
    writeFileSync(file, whole.subarray(0, 40));
    expect(readSettled(path, 'this program')).toBeNull();
  });
  it('aren’t kept by a program without a name', () => {
    rmSync(`${folder}/${kept()[0]}`);
    vi.useFakeTimers();
    keepSettled(path, settled(), undefined);
    vi.runAllTimers();
    vi.useRealTimers();
    expect(kept()).toEqual([]);
  });
});
