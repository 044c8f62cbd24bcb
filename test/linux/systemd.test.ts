import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { describe, expect, it } from 'vitest';

const unit = readFileSync(new URL('../../systemd/slipshutter.service', import.meta.url), 'utf8');
const missing = spawnSync('systemd-analyze', ['--version']).error !== undefined;

describe.skipIf(missing)(`the service unit${missing ? ' (systemd-analyze isn’t here)' : ''}`, () => {
  const analyze = (...args: string[]) => {
    const folder = mkdtempSync(`${tmpdir()}/unit-`);
    try {
      // The program needn't be installed for its unit to be looked at.
      writeFileSync(`${folder}/slipshutter.service`, unit.replaceAll('/usr/local/bin/slipshutter', '/bin/true'));
      const { status, stdout, stderr } = spawnSync('systemd-analyze', [...args, `${folder}/slipshutter.service`], {
        encoding: 'utf8',
        env: { ...process.env, SYSTEMD_COLORS: '0', SYSTEMD_EMOJI: '0' },
      });
      return { status, output: stdout + stderr };
    } finally {
      rmSync(folder, { recursive: true });
    }
  };

  it('verifies without a word', () => {
    const { status, output } = analyze('verify', '--man=no');
    // Units of the system that this machine lacks are not ours.
    expect(output.split('\n').filter(line => line.includes('slipshutter'))).toEqual([]);
    expect(status).toBe(0);
  });

  it('is hardened to an exposure of 1.5 at most', () => {
    const { output } = analyze('security', '--offline=true');
    const level = Number(/Overall exposure level for slipshutter\.service: ([\d.]+)/.exec(output)?.[1]);
    expect(level).toBeLessThanOrEqual(1.5);
  });

  it('lets the coil go whatever became of the program, and is told when it runs', () => {
    expect(unit).toMatch(/^ExecStopPost=.* run --let-go/m);
    expect(unit).toMatch(/^Type=notify$/m);
    expect(unit).toMatch(/^WatchdogSec=\d+$/m);
  });
});
