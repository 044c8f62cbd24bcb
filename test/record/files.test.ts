import {
  chmodSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { createFaultKeeper } from '../../src/record/fault-keeper.ts';
import { createLineFile } from '../../src/record/line-file.ts';
import { createRing } from '../../src/record/ring.ts';

const folder = mkdtempSync(join(tmpdir(), 'files-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe('a file of lines', () => {
  it('has every line in its order once it is closed', async () => {
    const path = join(folder, 'many');
    const file = createLineFile({ path });
    const lines = Array.from({ length: 20_000 }, (_, i) => `${i} ${'x'.repeat(i % 90)}\n`);
    for (const line of lines) file.write(line);
    await file.close();
    expect(readFileSync(path, 'utf8')).toBe(lines.join(''));
  });

  it('goes on behind what was there, on a line of its own', async () => {
    const path = join(folder, 'torn');
    for (const [before, after] of [
      ['', 'a\n'],
      ['whole\n', 'whole\na\n'],
      ['torn', 'torn\na\n'],
    ]) {
      writeFileSync(path, before);
      const file = createLineFile({ path });
      file.write('a\n');
      await file.close();
      expect(readFileSync(path, 'utf8')).toBe(after);
    }
  });

  it('takes nothing more once it is closed, and closes when nothing came', async () => {
    const path = join(folder, 'empty');
    const file = createLineFile({ path });
    await file.close();
    file.write('late\n');
    expect(readFileSync(path, 'utf8')).toBe('');
  });

  it('can’t be opened where there is no folder, and says so', () => {
    expect(() => createLineFile({ path: join(folder, 'no', 'file') })).toThrow(/can’t be written/);
  });

  // /dev/full fails every write with ENOSPC (full(4)).
  it.skipIf(!existsSync('/dev/full'))(
    'says once when the disk takes nothing more, and goes on without it',
    async () => {
      const troubles: string[] = [];
      const file = createLineFile({ path: '/dev/full', onTrouble: why => troubles.push(why) });
      file.write(`${'x'.repeat(100_000)}\n`);
      await vi.waitFor(() => expect(troubles).toHaveLength(1));
      file.write('more\n');
      await file.close();
      expect(troubles[0]).toContain('ENOSPC');
      expect(troubles).toHaveLength(1);
    },
  );
});

describe('recordings of faults', () => {
  beforeEach(() => vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout'] }));
  afterEach(() => vi.useRealTimers());

  const setUp = (name: string) => {
    const path = join(folder, name);
    const ring = createRing();
    ring.write('{"format":"x"}\n');
    let atMs = 0;
    const keeper = createFaultKeeper({ ring, folder: path, nowMs: () => atMs });
    return {
      path,
      ring,
      keeper,
      names: () => (existsSync(path) ? readdirSync(path).sort() : []),
      async pass(ms: number) {
        atMs += ms;
        await vi.advanceTimersByTimeAsync(ms);
      },
      settled: (count: number) =>
        vi.waitFor(() => expect(readdirSync(path).filter(one => one.endsWith('.ndjson'))).toHaveLength(count)),
    };
  };

  it('hold what led to the fault and what it set off', async () => {
    const { path, ring, keeper, names, pass, settled } = setUp('one');
    ring.write('before\n');
    keeper.fault();
    await pass(1000);
    ring.write('shortly after\n');
    expect(names()).toEqual([]);
    await pass(3000);
    await settled(1);
    expect(readFileSync(join(path, 'fault-00001.ndjson'), 'utf8')).toBe('{"format":"x"}\nbefore\nshortly after\n');
  });

  it('aren’t written again and again while faults go on', async () => {
    const { keeper, pass, settled, names } = setUp('crowd');
    for (let second = 0; second < 50; second++) {
      keeper.fault();
      await pass(1000);
    }
    await settled(1);
    for (let second = 0; second < 40; second++) {
      keeper.fault();
      await pass(1000);
    }
    await settled(2);
    expect(names()).toEqual(['fault-00001.ndjson', 'fault-00002.ndjson']);
  });

  it('make room for the newest, by number: a board without a clock knows no other order', async () => {
    const { path, keeper, pass, settled, names } = setUp('full');
    mkdirSync(path);
    for (let n = 3; n <= 12; n++) writeFileSync(join(path, `fault-${String(n).padStart(5, '0')}.ndjson`), '');
    writeFileSync(join(path, 'notes.txt'), 'mine');
    keeper.fault();
    await pass(4000);
    await settled(8);
    expect(names()[0]).toBe('fault-00006.ndjson');
    expect(names()).toContain('fault-00013.ndjson');
    expect(names()).toContain('notes.txt');
  });

  it('are kept at once when the program ends', async () => {
    const { keeper, names } = setUp('end');
    keeper.fault();
    await keeper.close();
    expect(names()).toEqual(['fault-00001.ndjson']);
    await keeper.close();
    expect(names()).toHaveLength(1);
  });

  it('change nothing where they can’t be written', async () => {
    const { path, keeper } = setUp('denied');
    mkdirSync(path);
    writeFileSync(join(path, 'x'), '');
    chmodSync(path, 0o500);
    const blocked = createFaultKeeper({ ring: createRing(), folder: join(path, 'x', 'y') });
    blocked.fault();
    await expect(blocked.close()).resolves.toBeUndefined();
    await keeper.close();
    chmodSync(path, 0o700);
  });
});
