import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import check from '../../src/cli/check.ts';
import enlist from '../../src/cli/enlist.ts';
import { refusalOf, runCommand } from './io.ts';

const folder = mkdtempSync(join(tmpdir(), 'enlist-'));
afterAll(() => rmSync(folder, { recursive: true }));
const newRoot = () => mkdtempSync(join(folder, 'root '));
const run = (values: Record<string, string | boolean>) => runCommand(enlist, [], values);

const board = [
  '/usr/local/bin/slipshutter',
  '/etc/systemd/system/slipshutter.service',
  '/etc/sysusers.d/slipshutter.conf',
  '/etc/tmpfiles.d/slipshutter.conf',
  '/etc/udev/rules.d/90-slipshutter.rules',
  '/etc/slipshutter/slipshutter.schema.json',
  '/etc/slipshutter/slipshutter.json',
  '/usr/local/share/man/man1/slipshutter.1',
  '/usr/local/share/bash-completion/completions/slipshutter',
];
const configFile = '/etc/slipshutter/slipshutter.json';
const unit = '/etc/systemd/system/slipshutter.service';

describe('enlist in a folder root', () => {
  it('only says what it would do, until it is told to write', async () => {
    const root = newRoot();
    const { out, code } = await run({ root });
    expect(code).toBe(0);
    for (const path of board) expect(out).toContain(`${path}  would be put in place`);
    expect(out).toContain('Nothing was changed');
    expect(readdirSync(root)).toEqual([]);
  });

  it('puts everything in place; the configuration is checked and commented; again changes nothing', async () => {
    const root = newRoot();
    const { out } = await run({ root, write: true });
    expect(out).toContain('Next: wire and try');
    expect(out).toContain('hundreds of volts');
    for (const path of board) expect(existsSync(root + path)).toBe(true);
    expect(statSync(`${root}/usr/local/bin/slipshutter`).mode & 0o777).toBe(0o755);
    expect(readFileSync(root + configFile, 'utf8')).toContain('// The shutter solenoid');
    const desk = join(folder, 'desk.json');
    writeFileSync(desk, '{}');
    expect((await runCommand(check, [], { config: root + configFile, board: desk })).code).toBe(0);
    const again = await run({ root });
    for (const path of board) expect(again.out).toContain(`${path}  is there already`);
  });

  it('keeps what is yours, renews what is its own, and takes away only what is as it was put', async () => {
    const root = newRoot();
    await run({ root, write: true });
    writeFileSync(root + configFile, '{ "button": { "settleMs": 9 } }');
    writeFileSync(root + unit, 'of an older version');
    const again = await run({ root, write: true });
    expect(again.out).toContain(`${configFile}  is yours, stays as it is`);
    expect(again.out).toContain(`${unit}  differed, put anew`);
    expect(readFileSync(root + unit, 'utf8')).toContain('ExecStart=');
    writeFileSync(root + unit, 'by hand');
    const removed = await run({ root, remove: true, write: true });
    expect(removed.out).toContain(`${unit}  was changed by hand, stays`);
    expect(removed.out).toContain('the pictures in /var/lib/slipshutter stay');
    expect(board.filter(path => existsSync(root + path))).toEqual([unit, configFile]);
    expect(readFileSync(root + configFile, 'utf8')).toContain('"settleMs": 9');
  });

  it.skipIf(!existsSync('/bin/sh'))(
    'its launcher hands on every argument as it is (pending without /bin/sh)',
    async () => {
      const root = newRoot();
      await run({ root, write: true });
      const launcher = readFileSync(`${root}/usr/local/bin/slipshutter`, 'utf8');
      const [, program] = /^exec '([^']+)' '[^']+' "\$@"$/m.exec(launcher) ?? [];
      expect(program).toBe(process.execPath);
      const shown = launcher.replace(
        /^exec .* "\$@"$/m,
        `exec '${program}' -p 'JSON.stringify(process.argv.slice(1))' -- "$@"`,
      );
      expect(execFileSync('sh', ['-c', shown, 'sh', 'a b', "c'd"], { encoding: 'utf8' })).toBe('["a b","c\'d"]\n');
    },
  );

  it('says who may do it, and takes no argument', async () => {
    const root = join(folder, 'file');
    writeFileSync(root, '');
    expect(await refusalOf(enlist, [], { root, write: true })).toMatchObject({
      code: 5,
      words: expect.stringContaining('run it as root'),
    });
    expect((await refusalOf(enlist, ['now'])).code).toBe(2);
  });
});
