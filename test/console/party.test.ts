import { closeSync, constants, openSync, readFileSync, readSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { createVirtualClock } from '../../sim/clock.ts';
import { scriptSchema } from '../../sim/script.ts';
import { parseSettings } from '../../src/config/settings.ts';
import { createLog } from '../../src/console/log.ts';
import { createOutlet } from '../../src/console/outlet.ts';
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

/** Every 25 ms of the party's time the far end of the console does something: 24 bytes are what 9,600 Bd bring in it. */
const beatMs = 25;
const bytesABeat = 24;
const mostWaitingBytes = 2000;
const startedMonoUs = 2_000_000;

describe.skipIf(noPty !== '')(`a console that is a real terminal${noPty}`, () => {
  const script = scriptOf(
    Array.from({ length: 20 }, (_, i) => ({ do: 'press', atS: 3 + 2 * i })),
    60,
    5,
  );
  const free = recordScript(script).lives[0];
  const linesOf = (text: string) => text.split(/\r?\n/).filter(line => line !== '');
  const pressToCoil = (log: string) => linesOf(log).filter(line => line.includes('"event":"coil"'));

  /** The same party with its log on a terminal that others keep full and whose far end does as told. */
  const party = (farEnd: (take: (bytes: number) => void, hangUp: () => void, atMs: number) => void) => {
    const { masterFd, slaveFd, path } = openPty();
    let heard = '';
    let there = true;
    const take = (bytes: number) => {
      const piece = Buffer.alloc(bytes);
      try {
        heard += piece.subarray(0, readSync(masterFd, piece, 0, bytes, null)).toString();
      } catch (error) {
        if ((error as NodeJS.ErrnoException).code !== 'EAGAIN') throw error;
      }
    };
    const hangUp = () => {
      if (there) closeSync(masterFd);
      there = false;
    };
    // Somebody else who writes to the same console, as kernel and service manager do.
    const others = openWay(slaveFd);
    const otherLine = Buffer.from(`${'-'.repeat(70)}\n`);
    const fill = () =>
      expect(() => {
        for (let i = 0; i < 100_000; i++) others.write(otherLine);
      }).toThrow('EAGAIN');
    fill();

    const time = createVirtualClock();
    const outlet = createOutlet({
      way: openWay(openSync(path, constants.O_WRONLY | constants.O_NOCTTY | constants.O_NONBLOCK)),
      longestBytes: mostWaitingBytes,
      later: (ms, act) => time.after(ms * 1000, act),
      onDropped: lines => say('dropped', { lines }),
    });
    const say = createLog({ clock: time, level: 'info', destination: outlet });
    let mostWaited = 0;
    const beat = () => {
      farEnd(take, hangUp, time.nowUs() / 1000);
      mostWaited = Math.max(mostWaited, outlet.waitingBytes);
      if (there && outlet.waitingBytes === 0) fill();
      time.after(beatMs * 1000, beat);
    };
    time.after(beatMs * 1000, beat);
    const { log } = recordScript(script, undefined, undefined, line => {
      const { mono, level } = JSON.parse(line);
      time.runUntil(Math.max(time.nowUs(), mono - startedMonoUs));
      outlet.lastLevel = level === 'warn' || level === 'error' ? 40 : 30;
      outlet.write(line);
    }).lives[0];
    const droppedAtEnd = outlet.dropped;
    if (there)
      for (let turn = 0; turn < 1000 && (turn < 100 || outlet.waitingBytes > 0 || outlet.dropped > 0); turn++) {
        take(65_536);
        time.runUntil(time.nowUs() + 250_000);
      }
    outlet.close();
    others.close();
    hangUp();
    closeSync(slaveFd);
    // The line that filled it was torn; the log goes on behind it.
    const came = linesOf(heard)
      .map(line => line.replace(/^-+/, ''))
      .filter(line => line !== '');
    const missing = came.reduce((sum, line) => sum + (JSON.parse(line).lines ?? 0), 0);
    return { log, came, missing, mostWaited, droppedAtEnd };
  };
  const isOwn = (line: string) => !line.includes('"event":"dropped"');

  it('has twenty presses to tell of', () => {
    expect(pressToCoil(free.log).length).toBeGreaterThanOrEqual(20);
  });

  it('delays no press while nobody reads, and says how many lines are missing when it flows again', () => {
    const { log, came, missing, droppedAtEnd } = party(() => {});
    expect(pressToCoil(log)).toEqual(pressToCoil(free.log));
    expect(log).toBe(free.log);
    expect(droppedAtEnd).toBeGreaterThan(0);
    expect(missing).toBeGreaterThan(0);
    expect(came.filter(isOwn).length + missing).toBe(linesOf(log).length);
  });

  it('delays no press when it is as slow as 9,600 Bd, and every line comes or is counted', () => {
    const { log, came, missing, mostWaited } = party(take => take(bytesABeat));
    expect(log).toBe(free.log);
    expect(mostWaited).toBeGreaterThan(bytesABeat * 10);
    expect(came.filter(isOwn).length + missing).toBe(linesOf(log).length);
  });

  it('delays no press when it vanishes in the midst of the party', () => {
    const { log, droppedAtEnd } = party((take, hangUp, atMs) => (atMs < 20_000 ? take(65_536) : hangUp()));
    expect(log).toBe(free.log);
    expect(droppedAtEnd).toBeGreaterThan(0);
  });
});
