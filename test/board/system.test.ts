import { copyFileSync, existsSync, readFileSync, writeFileSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { loadProfile } from '../../src/config/load-profile.ts';
import { type Board, boardFolder, boot } from './board.ts';
import { bodyConfig, pressFor, pullDown, pullUp, readBase, readOutputs, simulated, tracing } from './body.ts';
import { createTwin } from './twin.ts';

const program = 'node /usr/local/lib/node_modules/slipshutter/dist/slipshutter.cjs';
/** What an administrator changes of the unit. */
const dropIn = '/etc/systemd/system/slipshutter.service.d';
const configFile = '/etc/slipshutter/slipshutter.json';
// In the service's own state folder, and by numbers, as on boards whose lines have no names.
const config = {
  ...bodyConfig('sysfs'),
  gpio: { access: 'chip', chip: 'gpiochip0' },
  album: { folder: '/var/lib/slipshutter/album', leastFreeMb: 1 },
};

interface Finding {
  gravity: 'fault' | 'warning' | 'note';
  setting: string;
  what: string;
  mend: string;
}

describe.skipIf(!existsSync(`${boardFolder}/system.img`))(
  'the board under a real service manager (needs what make-system makes)',
  () => {
    let board: Board;
    let twin: ReturnType<typeof createTwin>;

    const unit = async (...names: string[]): Promise<Record<string, string>> => {
      const text = await board.sh(`systemctl show slipshutter -p ${names.join(',')}`);
      return Object.fromEntries(text.split('\n').map(line => line.split(/=(.*)/s).slice(0, 2)));
    };
    const until = async (what: string, there: () => Promise<boolean>, tries = 120) => {
      for (let i = 0; !(await there()); i++) {
        if (i > tries)
          throw new Error(`waited for ${what}: ${await board.sh('journalctl -u slipshutter -n 20 -o cat')}`);
        await sleep(500);
      }
    };
    const said = async (event: string): Promise<number> =>
      (await board.sh('journalctl -u slipshutter -o cat'))
        .split('\n')
        .filter(line => line.includes(`"event":"${event}"`)).length;
    const press = () => board.sh(pressFor(0.12));
    const linesHigh = async () => (await board.sh(readOutputs)).trim().split('\n');
    const check = async (what: object, options = ''): Promise<{ code: number; findings: Finding[] }> => {
      writeFileSync(`${board.out}/check.json`, JSON.stringify(what));
      const { code, output } = await board.job(`${program} check --json --config /out/check.json ${options}`);
      const start = output.indexOf('{');
      if (start < 0) throw new Error(output);
      return { code, findings: (JSON.parse(output.slice(start)) as { findings: Finding[] }).findings };
    };
    const applied = async (what: object) => {
      writeFileSync(`${board.out}/config.json`, JSON.stringify(what));
      await board.sh(`cp /out/config.json ${configFile}`);
      const readyBefore = await said('ready');
      await board.sh('systemctl restart slipshutter', 120_000);
      await until('ready', async () => (await said('ready')) > readyBefore);
    };

    const faults = (findings: readonly Finding[]) =>
      findings.filter(({ gravity }) => gravity === 'fault').map(({ setting, what }) => `${setting}: ${what}`);

    beforeAll(async () => {
      board = await boot({ name: 'system', system: true });
      twin = createTwin(loadProfile('panel-58mm'), bytes => board.answer(bytes));
      board.onPrinted(twin.hear);
      await board.sh(pullUp);
      await until(
        'the system',
        async () => (await board.job('systemctl is-system-running --wait')).output.trim() !== '',
      );
    });
    afterAll(async () => {
      twin?.stop();
      await board?.cut();
    });

    it('enlist changes nothing until it is told to', async () => {
      const output = await board.sh(`${program} enlist`);
      expect(output).toContain('/etc/systemd/system/slipshutter.service  would be put in place');
      expect((await board.job(`test -e /etc/slipshutter || test -e /usr/local/bin/slipshutter`)).code).toBe(1);
    });

    it('enlist --write makes user, groups, rules and service, and every step of it works', async () => {
      const { code, output } = await board.job(`${program} enlist --write 2>/out/enlist-err`, 120_000);
      expect([code, readFileSync(`${board.out}/enlist-err`, 'utf8')]).toEqual([0, '']);
      expect(output).toContain('systemctl enable slipshutter.service');
      const groups = (await board.sh('id -Gn slipshutter')).trim().split(/\s+/);
      expect(groups).toEqual(expect.arrayContaining(['slipshutter', 'gpio', 'video', 'dialout', 'lp']));
      await board.sh('udevadm settle');
      expect((await board.sh('stat -c "%G %a" /dev/gpiochip0')).trim()).toBe('gpio 660');
      expect((await board.sh('readlink /dev/slipshutter-webcam && readlink /dev/slipshutter-usb-printer')).trim()).toBe(
        'video0\nusb/lp0',
      );
      expect((await board.sh('systemctl is-enabled slipshutter')).trim()).toBe('enabled');
    });

    it('check finds no fault where there is none', async () => {
      const { code, findings } = await check(config);
      expect([code, faults(findings)]).toEqual([0, []]);
    });

    it('check names a busy line, the console as printer’s port, a webcam that isn’t there, and two parts on one pin', async () => {
      const wrong = {
        ...config,
        button: { line: 5 },
        printer: { ...config.printer, device: '/dev/ttyS0' },
        webcam: { ...config.webcam, device: '/dev/video9' },
      };
      const { code, findings } = await check(wrong);
      expect(code).toBe(4);
      expect(faults(findings).sort()).toEqual([
        "button.line: line 5 is in use by 'somebody'",
        'printer.device: /dev/ttyS0 is the kernel’s console',
        'webcam.device: /dev/video9 isn’t there',
      ]);
      for (const { gravity, mend } of findings) if (gravity === 'fault') expect(mend).not.toBe('');
      // Seen in the configuration alone, with its exit code; and by a name that the chip gives to the same line.
      const byNumber = await check({ ...config, lamp: { line: 27 } });
      expect([byNumber.code, faults(byNumber.findings)]).toEqual([
        2,
        ['lamp.line: /out/check.json, line 1: is 27, and so is shutter.line'],
      ]);
      const byName = await check({ ...config, lamp: { line: 'COIL' } });
      expect([byName.code, faults(byName.findings)]).toEqual([
        4,
        ['lamp.line: it is the same pin as shutter.line: 27'],
      ]);
    });

    it('check says what another user may not do, and what a webcam that was pulled out lacks', async () => {
      const { code, findings } = await check(config, '--user nobody');
      expect(code).toBe(4);
      const denied = faults(findings).filter(text => text.includes('nobody may not use'));
      expect(denied.join('\n')).toMatch(/\/dev\/gpiochip0 \(group gpio/);
      expect(denied.join('\n')).toMatch(/\/dev\/video0 \(group video/);
      expect(denied.join('\n')).toMatch(/\/dev\/ttyS1 \(group dialout/);
      await board.sh('echo vivid.0 >/sys/bus/platform/drivers/vivid/unbind; udevadm settle');
      const without = await check(config);
      await board.sh('echo vivid.0 >/sys/bus/platform/drivers/vivid/bind; udevadm settle');
      expect([without.code, faults(without.findings)]).toEqual([4, ['webcam.device: /dev/video0 isn’t there']]);
    });

    it('the service starts, says READY=1 and how it is, and prints what is pressed for', async () => {
      writeFileSync(`${board.out}/config.json`, JSON.stringify(config));
      await board.sh(`cp /out/config.json ${configFile}`);
      // Of a unit of Type=notify this comes back only when it said so.
      await board.sh('systemctl start slipshutter', 120_000);
      const { ActiveState, SubState, Type, NotifyAccess } = await unit(
        'ActiveState',
        'SubState',
        'Type',
        'NotifyAccess',
      );
      expect([Type, NotifyAccess, ActiveState, SubState]).toEqual(['notify', 'main', 'active', 'running']);
      await until('ready', async () => (await said('ready')) > 0);
      expect((await unit('StatusText')).StatusText).toBe('ready, idle');
      await press();
      await until('the print', async () => (await said('printed')) > 0);
      expect(twin.body().heightDots).toBeGreaterThan(200);
    });

    it('runs as its own user, without a capability, and alone with its state folder', async () => {
      const status = await board.sh(
        'pid=$(systemctl show slipshutter -p MainPID --value); cat /proc/$pid/status; ls /proc/$pid/ns -l; ls -l /proc/1/ns',
      );
      for (const set of ['CapInh', 'CapPrm', 'CapEff', 'CapBnd', 'CapAmb'])
        expect(status).toMatch(new RegExp(`${set}:\\s+0000000000000000\n`));
      expect(status).toMatch(/NoNewPrivs:\s+1\n/);
      expect(status).toMatch(/Seccomp:\s+2\n/);
      const uid = (await board.sh('id -u slipshutter')).trim();
      expect(status).toMatch(new RegExp(`Uid:\\s+${uid}\\s`));
    });

    it('a program in its place can write nowhere else, reach no network and open no other device', async () => {
      copyFileSync(new URL('guest/probe.cjs', import.meta.url), `${board.out}/probe.cjs`);
      // Its confinement alone must hold: here is a folder, and a device, that the system gives to everybody.
      await board.sh('mkdir -p /srv/open; chmod 777 /srv/open; chmod 666 /dev/kmsg');
      // The unit as it is shipped, every line of its confinement, around another program.
      await board.sh(
        `cp /out/probe.cjs /usr/local/lib/probe.cjs; grep -v -E '^(Exec|Type|NotifyAccess|Restart|WatchdogSec)' /etc/systemd/system/slipshutter.service |
        sed 's,^.Service.$,[Service]\\nType=oneshot\\nExecStart=/usr/bin/node /usr/local/lib/probe.cjs,' >/etc/systemd/system/probe.service
        systemctl daemon-reload; systemctl start probe.service`,
        120_000,
      );
      const found = JSON.parse(await board.sh('cat /var/lib/slipshutter/probe.json'));
      expect(found.writes).toEqual(['/tmp', '/var/tmp', '/var/lib/slipshutter', '/var/cache/slipshutter']);
      // Both are private, and gone with the service.
      expect((await board.job('ls /tmp/probe /var/tmp/probe')).code).not.toBe(0);
      expect(found.devices).toEqual({
        '/dev/gpiochip0': 'done',
        '/dev/video0': 'done',
        '/dev/ttyS1': 'done',
        '/dev/vda': expect.stringMatching(/^E/),
        '/dev/vdb': expect.stringMatching(/^E/),
        '/dev/mem': expect.stringMatching(/^E/),
        '/dev/kmsg': expect.stringMatching(/^E/),
        '/dev/tty0': expect.stringMatching(/^E/),
      });
      expect([found.tcp, found.udp]).toEqual(['EAFNOSUPPORT', 'EAFNOSUPPORT']);
      expect(found.interfaces).toEqual(['lo']);
      process.stdout.write(`the probe in the service's place: ${JSON.stringify(found)}\n`);
    });

    it('held still, it is started again by the watchdog, and takes pictures again', async () => {
      const before = await unit('MainPID', 'NRestarts');
      const readyBefore = await said('ready');
      await board.sh('systemctl kill --kill-whom=main -s STOP slipshutter');
      await until(
        'the watchdog',
        async () => Number((await unit('NRestarts')).NRestarts) > Number(before.NRestarts),
        200,
      );
      await until('ready again', async () => (await said('ready')) > readyBefore);
      expect((await unit('MainPID')).MainPID).not.toBe(before.MainPID);
      expect(await board.sh('journalctl -u slipshutter -o cat')).toMatch(/Watchdog timeout/);
      const printed = await said('printed');
      await sleep(1000);
      await press();
      await until('a print', async () => (await said('printed')) > printed);
    });

    it('killed while the coil is on, its last step lets go of every line', async () => {
      await applied({ ...config, shutter: { ...config.shutter, pulseMs: 200, longestPulseMs: 400 } });
      const readyBefore = await said('ready');
      await board.sh(
        `echo 0 >${tracing}/tracing_on; echo 1 >${tracing}/events/gpio/enable; : >${tracing}/trace; echo 1 >${tracing}/tracing_on
        pid=$(systemctl show slipshutter -p MainPID --value); echo $pid >/out/pid
        ( while [ "$(cat ${simulated}/sim_gpio27/value)" != 1 ]; do :; done; kill -KILL $pid ) & ${pullDown}; wait; ${pullUp}`,
      );
      await until('the next start', async () => (await said('ready')) > readyBefore);
      // The kernel's word: between the program that was killed and the next one, another process put the coil's line low.
      const trace = await board.sh(`cat ${tracing}/trace; echo 0 >${tracing}/events/gpio/enable`);
      const programs = [readFileSync(`${board.out}/pid`, 'utf8').trim(), (await unit('MainPID')).MainPID];
      const base = Number(await board.sh(readBase));
      const ofCoil = trace.split('\n').flatMap(line => {
        const [, thread, what] = /-(\d+) .*: gpio_(?:value|direction): +(\d+ .*)$/.exec(line) ?? [];
        return what?.startsWith(`${base + 27} `) ? [{ thread, what: what.replace(/^\d+ +/, '') }] : [];
      });
      process.stdout.write(
        `the coil's line, by the kernel: ${ofCoil.map(({ thread, what }) => `${thread}: ${what}`).join(', ')}; killed was ${programs[0]}, and ${programs[1]} came next\n`,
      );
      const on = ofCoil.findLastIndex(({ what }) => what === 'set 1');
      const next = ofCoil.findLastIndex(({ thread }) => thread === programs[1]);
      const between = ofCoil.slice(on + 1, next).filter(({ thread }) => !programs.includes(thread));
      expect(between.map(({ what }) => what)).toContain('set 0');
      expect((await linesHigh())[3]).toBe('0');
    });

    it('feeds the board’s own watchdog as its own user, and tells it when it is stopped', async () => {
      const state = async () => (await board.sh('cat /sys/class/watchdog/watchdog0/state')).trim();
      const watched = { ...config, watchdog: { device: '/dev/watchdog0' } };
      expect((await board.sh('stat -c "%G %a" /dev/watchdog0')).trim()).toBe('slipshutter 660');
      expect(faults((await check(watched)).findings)).toEqual([]);
      expect(await state()).toBe('inactive');
      await applied(watched);
      expect(await state()).toBe('active');
      await board.sh('systemctl stop slipshutter', 60_000);
      expect(await state()).toBe('inactive');
    });

    it('by sysfs it works as its own user too, where its unit lets it write there', async () => {
      const bySysfs = { ...config, gpio: { access: 'sysfs', chip: 'gpiochip0' } };
      expect(faults((await check(bySysfs, '--user nobody')).findings).join('\n')).toContain(
        'the user nobody may not use /sys/class/gpio/export (group gpio, mode 0660)',
      );
      const { findings } = await check(bySysfs);
      expect(faults(findings)).toEqual([]);
      expect(findings.map(({ mend }) => mend).join('\n')).toContain('ProtectKernelTunables=no');
      await board.sh(
        `mkdir -p ${dropIn}; printf '[Service]\nProtectKernelTunables=no\n' >${dropIn}/sysfs.conf; systemctl daemon-reload`,
      );
      await applied(bySysfs);
      const line = Number(await board.sh(readBase)) + 27;
      expect((await board.sh(`stat -c "%G %a" /sys/class/gpio/gpio${line}/value`)).trim()).toBe('gpio 660');
      const printed = await said('printed');
      await press();
      await until('a print', async () => (await said('printed')) > printed);
    });

    it('asked to stop, by sysfs too it ends well and leaves every line at rest', async () => {
      expect((await unit('ActiveState')).ActiveState).toBe('active');
      await board.sh('systemctl stop slipshutter', 60_000);
      const { ActiveState, Result, ExecMainStatus } = await unit('ActiveState', 'Result', 'ExecMainStatus');
      expect([ActiveState, Result, ExecMainStatus]).toEqual(['inactive', 'success', '0']);
      expect(await linesHigh()).toEqual(['0', '0', '0', '0']);
    });

    it('enlist --remove takes all of it away but the person’s own configuration', async () => {
      await board.sh(`rm -r ${dropIn}; ${program} enlist --remove --write`, 60_000);
      const left = await board.sh(
        'ls /etc/systemd/system /etc/sysusers.d /etc/tmpfiles.d /etc/udev/rules.d /usr/local/bin /etc/slipshutter 2>/dev/null',
      );
      expect(left.match(/slipshutter\.\w+/g)).toEqual(['slipshutter.json']);
    });
  },
);
