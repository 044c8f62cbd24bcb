import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { loadProfile } from '../../src/config/load-profile.ts';
import { type Board, boot } from './board.ts';
import { offsets, pullDown, pullUp, readBase, readOutputs, simulated, tracing } from './body.ts';
import { createTwin } from './twin.ts';

const commented = `{
  // tried on the emulated board
  "gpio": { "chip": "gpiochip0" },
  "button": { "line": "BUTTON", "settleMs": 1 /* too short */ },
  "shutter": { "line": "COIL", "pulseMs": 25, "longestPulseMs": 60 },
  "lamp": { "line": "LAMP" },
  "motor": { "inLine": "FOCUS_IN", "outLine": "FOCUS_OUT" },
  "webcam": { "widthPx": 640, "heightPx": 360, "framesPerSecond": 25 },
  "supply": { "sensor": "/tmp/volts" },
  "printer": { "profile": "panel-58mm", "device": "/dev/ttyS1", "baud": 115200 }
}
`;

describe('tryout on the emulated board', () => {
  let board: Board;
  beforeAll(async () => {
    board = await boot({ name: 'tryout' });
    await board.sh(`echo 7400000 >/tmp/volts; ${pullUp}`);
  });
  afterAll(() => board?.cut());

  const command = (args: string) => `cd /tmp; exec node /program/tools/tools.mjs tryout ${args} --config /out/try.json`;
  const config = (text = commented) => writeFileSync(`${board.out}/try.json`, text);
  /** Lamp, both sides of the bridge, coil. */
  const high = async () => (await board.sh(readOutputs)).trim().split('\n');
  const atRest = ['0', '0', '0', '0'];
  const watch = () => board.sh(`echo 1 >${tracing}/events/gpio/gpio_value/enable; : >${tracing}/trace`);
  /** Every time that a line was switched on, by the kernel's word. */
  const onCounts = async () => {
    const text = await board.sh(`cat ${tracing}/trace; ${readBase}`);
    const base = Number(text.trim().split('\n').at(-1));
    const level = new Map<number, string>();
    const counts: Record<number, number> = { 22: 0, 23: 0, 24: 0, 27: 0 };
    for (const [, line, value] of text.matchAll(/gpio_value: (\d+) set (\d)/g)) {
      const at = Number(line) - base;
      if (value === '1' && level.get(at) !== '1' && at in counts) counts[at]++;
      level.set(at, value);
    }
    return counts;
  };

  it('lamp, supply, motor and shutter by script: each is driven, nothing is left on', async () => {
    config();
    await watch();
    const { code, output } = await board.job(command('lamp supply motor shutter --yes'), 180_000);
    expect(output).toContain('6 readings in 3 s: 7.40 to 7.40 V');
    expect(code, output).toBe(0);
    const counts = await onCounts();
    expect([counts[22] > 3, counts[23], counts[24], counts[27]]).toEqual([true, 1, 1, 1]);
    expect(await high()).toEqual(atRest);
  });

  it('webcam: what it offers, its frames as files', async () => {
    config();
    const { code, output } = await board.job(command('webcam --yes --out /out/tried'), 240_000);
    expect(code, output).toBe(0);
    expect(output).toMatch(/YUYV {3}.*640 × 360/);
    expect(output).toMatch(/640 × 360, \d+\.\d frames a second/);
    expect(readFileSync(`${board.out}/tried/webcam.png`).subarray(1, 4).toString()).toBe('PNG');
    expect(await high()).toEqual(atRest);
  });

  it('button: a finger’s presses with their bounce, and the settle time written with comments kept', async () => {
    config();
    const running = board.start(`${command('button --yes')} >/out/button.txt 2>&1`);
    const shown = () => (existsSync(`${board.out}/button.txt`) ? readFileSync(`${board.out}/button.txt`, 'utf8') : '');
    for (let passed = 0; !shown().includes('Press and release') && passed < 120_000; passed += 100) await sleep(100);
    await board.sh(
      `for i in 1 2 3 4 5 6 7 8 9 10; do ${pullDown}; ${pullUp}; ${pullDown}; sleep 0.3; ${pullUp}; sleep 0.3; done`,
      60_000,
    );
    const { code } = await running;
    expect(code, shown()).toBe(0);
    expect(shown()).toContain('The contact is open now.');
    expect(shown()).toMatch(/press 10: closed for \d+ ms/);
    const written = readFileSync(`${board.out}/try.json`, 'utf8');
    const settleMs = /"settleMs": (\d+) \/\* too short \*\//.exec(written)?.[1];
    // Never less than the longest bounce of the published study asks for (Ganssle, 6,200 µs).
    expect(Number(settleMs)).toBeGreaterThanOrEqual(7);
    expect(written.replace(`"settleMs": ${settleMs}`, '"settleMs": 1')).toBe(commented);
  });

  it.each([
    ['INT', 'lamp', offsets.LAMP],
    ['TERM', 'motor', offsets.FOCUS_IN],
    ['HUP', 'lamp', offsets.LAMP],
    ['INT', 'motor', offsets.FOCUS_IN],
  ] as const)('SIG%s while the %s is driven: off at once, exit code 2', async (signal, part, line) => {
    config(commented.replace('"FOCUS_OUT" }', '"FOCUS_OUT", "travelMs": 10000 }'));
    const running = board.start(`echo $$ >/tmp/try-pid; ${command(`${part} --yes`)}`);
    // Waits inside the guest: a drive is short.
    await board.sh(
      `while [ "$(cat ${simulated}/sim_gpio${line}/value)" = 0 ]; do :; done; kill -${signal} $(cat /tmp/try-pid)`,
      120_000,
    );
    const { code, output } = await running;
    expect([part, code], output).toEqual([part, 2]);
    expect(output).toContain('stopped: everything is off');
    expect(await high()).toEqual(atRest);
  });

  it('a line that somebody else holds is said in words, and the next part is tried', async () => {
    config(commented.replace('"LAMP"', '"TAKEN"'));
    const { code, output } = await board.job(command('lamp supply --yes'), 120_000);
    expect(code, output).toBe(4);
    expect(output).toContain('It can’t be had');
    expect(output).toContain('somebody');
    expect(output).toMatch(/supply {2}works/);
  });

  // A wire of an emulator on a busy machine loses bytes now and then, and nobody prints a pattern again by itself.
  it('printer: the test pattern reaches the port whole', { retry: 2 }, async () => {
    config();
    const twin = createTwin(loadProfile('panel-58mm'), bytes => board.answer(bytes));
    board.onPrinted(twin.hear);
    try {
      const { code, output } = await board.job(command('printer --yes'), 300_000);
      expect(code, output).toBe(0);
      expect(output).toMatch(/Printed in \d+\.\d s/);
      // 16 cm, as it says.
      expect(twin.paper.at / 8).toBeGreaterThan(140);
    } finally {
      twin.stop();
    }
  });
});
