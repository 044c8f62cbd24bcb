import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { loadProfile } from '../../src/config/load-profile.ts';
import { type Board, boot } from './board.ts';
import { bodyConfig, pressFor, pullUp } from './body.ts';
import { createTwin } from './twin.ts';

/** As the guest's first process sets it. */
const heartbeatS = 10;
const config = { ...bodyConfig(), watchdog: { device: '/dev/watchdog0' } };

describe('the board’s own watchdog, an emulated Intel 6300ESB', () => {
  let board: Board;
  let twin: ReturnType<typeof createTwin>;
  let run = 0;
  const logText = () => (existsSync(`${board.out}/log-${run}`) ? readFileSync(`${board.out}/log-${run}`, 'utf8') : '');
  const log = () =>
    logText()
      .split('\n')
      .filter(line => line.startsWith('{') && line.endsWith('}'))
      .map(line => JSON.parse(line) as { event: string } & Record<string, unknown>);
  const until = async (what: string, there: () => boolean) => {
    for (let passed = 0; !there(); passed += 100) {
      if (passed > 180_000) throw new Error(`waited for ${what}; the log ends: ${logText().slice(-600)}`);
      await sleep(100);
    }
  };
  const heard = (event: string, times = 1) =>
    until(`${times} × ${event}`, () => log().filter(line => line.event === event).length >= times);
  const start = async () => {
    run++;
    writeFileSync(`${board.out}/config.json`, JSON.stringify(config));
    await board.sh(pullUp);
    void board.start(
      `export CACHE_DIRECTORY=/state/cache; echo $$ >/tmp/pid; exec node /program/dist/slipshutter.cjs run --config /out/config.json >/out/log-${run} 2>/out/err-${run}`,
    );
    await heard('ready');
  };
  const state = async () => (await board.sh('cat /sys/class/watchdog/watchdog0/state')).trim();
  /** Lets so much of the guest's own time pass; the watchdog counts that. */
  const passInGuest = (seconds: number) => board.job(`sleep ${seconds}`, 300_000);

  beforeAll(async () => {
    board = await boot({ name: 'watchdog', reboots: true });
    twin = createTwin(loadProfile('panel-58mm'), bytes => board.answer(bytes));
    board.onPrinted(twin.hear);
  });
  afterAll(async () => {
    twin?.stop();
    await board?.cut();
  });

  it('is fed while the camera runs, through a picture and for longer than the watchdog waits', async () => {
    const about = await board.sh('cd /sys/class/watchdog/watchdog0; cat identity timeout state');
    expect(about.trim().split('\n')).toEqual(['i6300ESB timer', String(heartbeatS), 'inactive']);
    await start();
    expect(await state()).toBe('active');
    await board.sh(pressFor(0.1));
    await heard('printed');
    await passInGuest(1.5 * heartbeatS);
    expect([await state(), board.ups()]).toEqual(['active', 1]);
  });

  it('is told that an orderly end is meant: the board stays up', async () => {
    await board.sh('kill -TERM $(cat /tmp/pid)');
    await heard('closed');
    await board.sh('while kill -0 $(cat /tmp/pid) 2>/dev/null; do sleep 0.2; done');
    expect(await state()).toBe('inactive');
    await passInGuest(1.5 * heartbeatS);
    expect(board.ups()).toBe(1);
  });

  it('resets the board when the program stands still, and the camera comes up again with its pictures', async () => {
    await start();
    expect(await state()).toBe('active');
    await board.sh(pressFor(0.1));
    await heard('kept');
    await board.sh('dmesg >/out/dmesg; cut -d" " -f1 /proc/uptime >/out/stopped; kill -STOP $(cat /tmp/pid)');
    // The emulator's own time: whatever the guest does now, the device counts on.
    const beganMs = performance.now();
    await until('the reset', () => board.ups() > 1);
    const passedS = (performance.now() - beganMs) / 1000;
    process.stdout.write(`the program held still: the board was up again ${passedS.toFixed(1)} s later\n`);
    // Not by anything else: the last feed can have been up to a third of the time ago.
    expect(passedS).toBeGreaterThan((heartbeatS * 2) / 3 - 1);
    expect(board.ups()).toBe(2);
    expect(await state()).toBe('inactive');
    await start();
    const opened = log().find(({ event }) => event === 'album-opened');
    expect(opened).toMatchObject({ nextShot: 3 });
    if (Number(opened?.pending) > 0) await heard('printed', Number(opened?.pending));
    await board.sh('kill -TERM $(cat /tmp/pid)');
    await heard('closed');
  });
});
