import { execFileSync } from 'node:child_process';
import { closeSync, constants, existsSync, mkdtempSync, openSync, readFileSync, readSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, describe, expect, it } from 'vitest';
import { createVirtualClock } from '../../sim/clock.ts';
import { createLog } from '../../src/console/log.ts';
import { createOutlet, type Way } from '../../src/console/outlet.ts';
import { openWay } from '../../src/console/way.ts';
import { noPty, openPty } from './pty.ts';

const errno = (code: string) => Object.assign(new Error(code), { code });

/** A way that takes what it is told to, and time that goes on by hand. */
const setUp = (longestBytes = 1000) => {
  const clock = createVirtualClock();
  const state = { room: Number.POSITIVE_INFINITY, broken: null as string | null, mayReopen: true, reopened: 0 };
  const out: string[] = [''];
  const way: Way = {
    write(bytes) {
      if (state.broken) throw errno(state.broken);
      const took = Math.min(bytes.length, state.room);
      if (took === 0) throw errno('EAGAIN');
      state.room -= took;
      out[out.length - 1] += Buffer.from(bytes.subarray(0, took)).toString();
      return took;
    },
    reopen() {
      if (!state.mayReopen) throw errno('ENXIO');
      state.reopened++;
      state.broken = null;
      out.push('');
    },
    close() {},
  };
  const told: number[] = [];
  const outlet = createOutlet({
    way,
    longestBytes,
    later: (delayMs, act) => clock.after(delayMs * 1000, act),
    onDropped(lines) {
      told.push(lines);
      outlet.lastLevel = 40;
      outlet.write(`dropped ${lines}\n`);
    },
  });
  return { clock, state, out, told, outlet, text: () => out.join('') };
};
const line = (n: number, length = 20) => `${`line ${n} `.padEnd(length - 1, '.')}\n`;

describe('the outlet', () => {
  it('writes at once while the way takes lines', () => {
    const { outlet, text } = setUp();
    outlet.write(line(1));
    outlet.write(line(2));
    expect(text()).toBe(line(1) + line(2));
    expect(outlet.waitingBytes).toBe(0);
  });

  it('keeps lines for a slow console and writes them in their order as it takes them', () => {
    const { outlet, state, clock, text } = setUp();
    state.room = 7;
    for (let n = 1; n <= 5; n++) outlet.write(line(n));
    expect(text()).toBe(line(1).slice(0, 7));
    for (let turn = 0; turn < 100; turn++) {
      state.room = 3;
      clock.step();
    }
    expect(text()).toBe([1, 2, 3, 4, 5].map(n => line(n)).join(''));
    expect(outlet.dropped).toBe(0);
  });

  it('drops whole lines when it is full, counts them, and says so where they are missing', () => {
    const { outlet, state, clock, told, text } = setUp(200);
    state.room = 0;
    for (let n = 1; n <= 30; n++) outlet.write(line(n));
    expect(outlet.waitingBytes).toBe(140);
    expect(outlet.dropped).toBe(23);
    state.room = Number.POSITIVE_INFINITY;
    clock.step();
    outlet.lastLevel = 30;
    outlet.write(line(31));
    expect(text()).toBe(`${[1, 2, 3, 4, 5, 6, 7].map(n => line(n)).join('')}dropped 23\n${line(31)}`);
    expect(told).toEqual([23]);
    expect(outlet.dropped).toBe(0);
  });

  it('keeps room for warnings and errors when it is nearly full', () => {
    const { outlet, state, clock, text } = setUp(1000);
    state.room = 0;
    outlet.lastLevel = 30;
    for (let n = 1; n <= 60; n++) outlet.write(line(n));
    outlet.lastLevel = 50;
    outlet.write('a coil that fails\n');
    outlet.lastLevel = 30;
    outlet.write(line(61));
    state.room = Number.POSITIVE_INFINITY;
    clock.step();
    const lines = text().trimEnd().split('\n');
    expect(lines.slice(-3)).toEqual(['dropped 23', 'a coil that fails', 'dropped 1']);
    expect(lines).toHaveLength(37 + 3);
  });

  it.each(['EPIPE', 'EIO', 'ENXIO', 'EBADF'])('tries again and again after %s, and gives the torn line whole', code => {
    const { outlet, state, clock, out } = setUp();
    state.room = 5;
    outlet.write(line(1));
    state.broken = code;
    state.mayReopen = false;
    for (let turn = 0; turn < 20; turn++) {
      clock.step();
      outlet.write(line(2 + turn));
    }
    expect(state.reopened).toBe(0);
    state.mayReopen = true;
    state.room = Number.POSITIVE_INFINITY;
    clock.step();
    expect(out[0]).toBe(line(1).slice(0, 5));
    expect(out[1].startsWith(`\n${line(1)}${line(2)}`)).toBe(true);
  });

  it('never waits and never keeps more than it may, whatever the way does', () => {
    const act = fc.oneof(
      fc.record({ write: fc.integer({ min: 2, max: 120 }), level: fc.constantFrom(30, 40, 50) }),
      fc.record({ room: fc.integer({ min: 0, max: 400 }) }),
      fc.record({ broken: fc.constantFrom('EPIPE', 'EIO') }),
      fc.constant({ step: true }),
    );
    fc.assert(
      fc.property(fc.array(act, { maxLength: 120 }), acts => {
        const { outlet, state, clock, told, text } = setUp(500);
        let given = 0;
        for (const one of acts) {
          if ('write' in one) {
            outlet.lastLevel = one.level;
            outlet.write(line(++given, one.write + 12));
          } else if ('room' in one) state.room = one.room;
          else if ('broken' in one) state.broken = one.broken;
          else clock.step();
          expect(outlet.waitingBytes).toBeLessThanOrEqual(700);
        }
        state.room = Number.POSITIVE_INFINITY;
        clock.runUntil(clock.nowUs() + 120e6);
        // Every line is there whole, in its order, or counted as dropped at the very place where it is missing.
        let next = 1;
        for (const one of text().split('\n')) {
          const number = /^line (\d+) \.*$/.exec(one)?.[1];
          const missing = /^dropped (\d+)$/.exec(one)?.[1];
          if (missing) next += Number(missing);
          else if (number && Number(number) === next) next++;
        }
        expect(next).toBe(given + 1);
        expect(outlet.dropped).toBe(0);
        expect(outlet.waitingBytes).toBe(0);
        expect(told.every(lines => lines > 0)).toBe(true);
      }),
      { numRuns: 300 },
    );
  });
});

const folder = mkdtempSync(join(tmpdir(), 'outlet-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const readAll = (fd: number): string => {
  const chunk = Buffer.alloc(65_536);
  let text = '';
  for (;;) {
    try {
      const read = readSync(fd, chunk, 0, chunk.length, null);
      if (read === 0) return text;
      text += chunk.subarray(0, read).toString();
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code === 'EAGAIN') return text;
      throw error;
    }
  }
};

/** As a program has its standard output: open, and whoever opened it may not be waited for. */
const wayTo = (path: string): Way =>
  openWay(openSync(path, constants.O_WRONLY | constants.O_APPEND | constants.O_NONBLOCK | constants.O_NOCTTY));

/** Writes a log of `count` lines to a device that nobody reads, then reads it. */
const jamAndRead = (path: string, readFd: number, count: number) => {
  const clock = createVirtualClock();
  const outlet = createOutlet({
    way: wayTo(path),
    later: (delayMs, act) => clock.after(delayMs * 1000, act),
    onDropped: lines => log('dropped', { lines }),
  });
  const log = createLog({ clock, level: 'info', destination: outlet });
  for (let shot = 1; shot <= count; shot++) log('press', { shot, settledUs: 11_000 });
  const droppedAtFirst = outlet.dropped;
  let text = '';
  for (let turn = 0; turn < 1000 && (outlet.waitingBytes > 0 || outlet.dropped > 0); turn++) {
    text += readAll(readFd);
    clock.step();
  }
  text += readAll(readFd);
  outlet.close();
  const lines = text
    .split(/\r?\n/)
    .filter(one => one !== '')
    .map(one => JSON.parse(one) as { event: string; shot: number; lines: number });
  return { droppedAtFirst, lines };
};

describe.skipIf(!existsSync('/usr/bin/mkfifo'))('on a pipe (pending where mkfifo is missing)', () => {
  it('drops and counts while nobody reads, then goes on', () => {
    const path = join(folder, 'pipe');
    execFileSync('mkfifo', [path]);
    const readFd = openSync(path, constants.O_RDONLY | constants.O_NONBLOCK);
    const { droppedAtFirst, lines } = jamAndRead(path, readFd, 3000);
    closeSync(readFd);
    expect(droppedAtFirst).toBeGreaterThan(500);
    const dropped = lines.filter(({ event }) => event === 'dropped').reduce((sum, one) => sum + one.lines, 0);
    expect(lines.filter(({ event }) => event === 'press').length + dropped).toBe(3000);
    expect(dropped).toBe(droppedAtFirst);
  });

  it('finds the pipe again when a reader comes back', () => {
    const path = join(folder, 'vanishing');
    execFileSync('mkfifo', [path]);
    const clock = createVirtualClock();
    let readFd = openSync(path, constants.O_RDONLY | constants.O_NONBLOCK);
    const outlet = createOutlet({ way: wayTo(path), later: (ms, act) => clock.after(ms * 1000, act) });
    outlet.write('one\n');
    expect(readAll(readFd)).toBe('one\n');
    closeSync(readFd);
    outlet.write('two\n');
    clock.runUntil(5e6);
    readFd = openSync(path, constants.O_RDONLY | constants.O_NONBLOCK);
    clock.runUntil(40e6);
    outlet.write('three\n');
    expect(readAll(readFd)).toBe('two\nthree\n');
    outlet.close();
    closeSync(readFd);
  });

  it('appends to a file', () => {
    const path = join(folder, 'file');
    closeSync(openSync(path, 'w'));
    const first = createOutlet({ way: wayTo(path) });
    first.write('one\n');
    first.close();
    const second = createOutlet({ way: wayTo(path) });
    second.write('two\n');
    second.close();
    expect(readFileSync(path, 'utf8')).toBe('one\ntwo\n');
  });
});

describe.skipIf(noPty !== '')(`on a terminal${noPty}`, () => {
  it('drops and counts while nobody reads, then goes on', () => {
    const { masterFd, slaveFd, path } = openPty();
    const { droppedAtFirst, lines } = jamAndRead(path, masterFd, 3000);
    expect(droppedAtFirst).toBeGreaterThan(500);
    const dropped = lines.filter(({ event }) => event === 'dropped').reduce((sum, one) => sum + one.lines, 0);
    expect(lines.filter(({ event }) => event === 'press').length + dropped).toBe(3000);
    closeSync(masterFd);
    closeSync(slaveFd);
  });

  it('outlives a terminal that hangs up', () => {
    const { masterFd, slaveFd, path } = openPty();
    const clock = createVirtualClock();
    const outlet = createOutlet({ way: wayTo(path), later: (ms, act) => clock.after(ms * 1000, act) });
    outlet.write('one\n');
    expect(readAll(masterFd)).toBe('one\r\n');
    closeSync(masterFd);
    for (let n = 0; n < 10_000; n++) outlet.write(line(n));
    clock.runUntil(60e6);
    expect(outlet.dropped).toBeGreaterThan(1000);
    outlet.close();
    closeSync(slaveFd);
  });
});
