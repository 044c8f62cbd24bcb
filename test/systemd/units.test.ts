import { execFileSync, spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';

const unit = new URL('../../systemd/slipshutter.service', import.meta.url).pathname;

describe.skipIf(!existsSync('/usr/bin/systemd-analyze'))(
  'service unit, by systemd-analyze (pending where systemd is not installed)',
  () => {
    it('is clean, but for the program and manual that enlist puts in place', () => {
      const copy = join(mkdtempSync(join(tmpdir(), 'unit-')), 'slipshutter.service');
      writeFileSync(
        copy,
        readFileSync(unit, 'utf8')
          .replaceAll('/usr/local/bin/slipshutter', '/bin/true')
          .replace(/^Documentation=.*\n/m, ''),
      );
      const { stderr, status } = spawnSync('systemd-analyze', ['verify', copy], { encoding: 'utf8' });
      expect(stderr).toBe('');
      expect(status).toBe(0);
    });

    it('is exposed no more than 1.5 of 10', () => {
      const report = execFileSync('systemd-analyze', ['security', '--offline=true', '--no-pager', unit], {
        encoding: 'utf8',
      });
      const level = Number(/Overall exposure level for slipshutter\.service: ([\d.]+)/.exec(report)?.[1]);
      expect(level).toBeLessThanOrEqual(1.5);
    });
  },
);

describe('service unit', () => {
  const text = readFileSync(unit, 'utf8');
  it('lets the coil go whatever ended the program', () => {
    expect(text).toMatch(/^ExecStopPost=.*--let-go/m);
  });
  it('opens no network and writes only its state folder', () => {
    expect(text).toMatch(/^PrivateNetwork=yes/m);
    expect(text).toMatch(/^ProtectSystem=strict/m);
    expect(text).not.toMatch(/^ReadWritePaths=/m);
  });
});
