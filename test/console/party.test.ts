import { closeSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { createVirtualClock } from '../../sim/clock.ts';
import { scriptSchema } from '../../sim/script.ts';
import { parseSettings } from '../../src/config/settings.ts';
import { createOutlet, type Outlet } from '../../src/console/outlet.ts';
import { createPictureJoiner } from '../../src/console/read/pictures.ts';
import { openWay } from '../../src/console/way.ts';
import { recordScript, scriptOf, smallConfig } from '../record/desk.ts';
import { noPty, openPty } from './pty.ts';

const demoFile = new URL('../../config/parties/demo.json', import.meta.url).pathname;

describe('the log of a whole party', () => {
  const script = parseSettings(readFileSync(demoFile, 'utf8'), scriptSchema, demoFile, 'script');
  // The log doesn't depend on the size of frames and dots.
  const { lives } = recordScript(
    script,
    smallConfig({
      ...script.config,
      webcam: { format: 'GREY', widthPx: 64, heightPx: 64 },
      printer: { imprint: false },
    }),
  );
  const lines = lives.flatMap(({ log }) => log.trimEnd().split('\n'));

  it('has at most 2 kB for each picture at the default level, faults and all', () => {
    const joiner = createPictureJoiner();
    const pictures = lines.flatMap(line => joiner.take(JSON.parse(line)) ?? []).length;
    const bytes = lines
      .filter(line => !/"level":"(trace|debug)"/.test(line))
      .reduce((sum, line) => sum + Buffer.byteLength(line) + 1, 0);
    expect(pictures).toBeGreaterThan(10);
    expect(bytes / pictures).toBeLessThan(2000);
    expect(bytes / pictures).toBeGreaterThan(500);
  });
});

describe.skipIf(noPty !== '')(`a console that nobody reads${noPty}`, () => {
  const script = scriptOf(
    Array.from({ length: 20 }, (_, i) => ({ do: 'press', atS: 3 + 2 * i })),
    60,
    5,
  );
  const pressesToCoil = (log: string) => log.split('\n').filter(line => line.includes('"event":"coil"'));

  it('delays no press: what the machine does, and when, is the same as without it', () => {
    const { masterFd, slaveFd } = openPty();
    const timers = createVirtualClock();
    const openJammed = (): Outlet =>
      createOutlet({ way: openWay(slaveFd), longestBytes: 2000, later: (ms, act) => timers.after(ms * 1000, act) });
    const outlet = openJammed();
    // What was on the line before: it is full, and stays so.
    for (let i = 0; i < 2000; i++) outlet.write(`${'-'.repeat(70)}\n`);
    const before = outlet.dropped;
    expect(before).toBeGreaterThan(0);
    const free = recordScript(script).lives[0];
    const jammed = recordScript(script, undefined, undefined, line => outlet.write(line)).lives[0];
    expect(pressesToCoil(jammed.log)).toEqual(pressesToCoil(free.log));
    expect(jammed.log).toBe(free.log);
    expect(pressesToCoil(free.log).length).toBeGreaterThanOrEqual(20);
    expect(outlet.dropped - before).toBe(jammed.log.trimEnd().split('\n').length);
    outlet.close();
    closeSync(masterFd);
    closeSync(slaveFd);
  });
});
