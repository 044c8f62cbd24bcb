import { execFileSync, spawn } from 'node:child_process';
import { once } from 'node:events';
import {
  closeSync,
  existsSync,
  mkdtempSync,
  readFileSync,
  rmSync,
  symlinkSync,
  unlinkSync,
  writeFileSync,
  writeSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import listen, { parseSince } from '../../src/cli/listen.ts';
import { followPort } from '../../src/console/port.ts';
import { isFault } from '../../src/parts/fault.ts';
import { noPty, openPty } from '../console/pty.ts';
import { recordScript, scriptOf } from '../record/desk.ts';
import { refusalOf, runCommand } from './io.ts';
import { bundleProgram } from './terminal.ts';

process.env.TZ = 'UTC';
const folder = mkdtempSync(join(tmpdir(), 'listen-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const { log } = recordScript(
  scriptOf(
    [
      { do: 'press', atS: 3 },
      { do: 'press', atS: 6 },
      { do: 'fault', fault: 'paper-out', atS: 5.9, forS: 4 },
    ],
    25,
  ),
).lives[0];
const logFile = join(folder, 'log.ndjson');
writeFileSync(logFile, log);

const run = (
  positionals: string[],
  values: Record<string, string | boolean> = {},
  input?: Iterable<Uint8Array>,
  terminal = false,
) => runCommand(listen, positionals, values, { input, terminal });
const refused = (positionals: string[], values: Record<string, string | boolean> = {}) =>
  refusalOf(listen, positionals, values);

describe('listen', () => {
  it('shows a file: a line a picture, and what went wrong', async () => {
    const { out, code } = await run([logFile]);
    expect(code).toBe(0);
    expect(out).toMatch(/^ {2}18:00:\d\d +1 +\d+ ms +\d+ ms +0\.30 s .* \d+ \(\d+\.\d\d m\)$/m);
    expect(out).toMatch(/▲ the print waits: the roll is empty/);
    expect(out).not.toContain('\x1b');
  });

  it('reads the same from a pipe, in any pieces', async () => {
    const bytes = Buffer.from(log);
    const pieces = Array.from({ length: Math.ceil(bytes.length / 7) }, (_, i) => bytes.subarray(i * 7, i * 7 + 7));
    expect((await run(['-'], {}, pieces)).out).toBe((await run([logFile])).out);
  });

  it('has colour on a terminal only', async () => {
    expect((await run([logFile], {}, undefined, true)).out).toContain('\x1b[');
  });

  it('gives joined records as JSON, faults beside them', async () => {
    const lines = (await run([logFile], { json: true })).out
      .trimEnd()
      .split('\n')
      .map(line => JSON.parse(line));
    expect(lines.filter(({ kind }) => kind === 'picture')).toMatchObject([
      { picture: 1, outcome: 'printed', kept: true },
      { picture: 2, outcome: 'printed', kept: true },
    ]);
    expect(lines.filter(({ event }) => event === 'waiting')).toMatchObject([{ kind: 'event', why: 'paper-out' }]);
    expect((await run([logFile], { json: true, level: 'warn' })).out).not.toContain('webcam-ready');
  });

  it('begins where it is told to', async () => {
    const at = new Date(Date.UTC(2026, 5, 20, 18, 0, 5)).toISOString();
    const { out } = await run([logFile], { since: at });
    expect(out.match(/\(\d+\.\d\d m\)/g)).toHaveLength(1);
  });

  it('keeps every byte where it is told to, and overwrites nothing', async () => {
    const raw = join(folder, 'kept.raw');
    const bytes = Buffer.from([0, 255, 10, 13, 10, 7, 200, 123]);
    await run(['-'], { raw }, [bytes]);
    expect(readFileSync(raw).equals(bytes)).toBe(true);
    expect((await refused([logFile], { raw })).words).toContain('is there already');
    expect(readFileSync(raw).equals(bytes)).toBe(true);
  });

  it('reports a boot', async () => {
    const boot = `[    0.000000] Linux version 6.1\n[    1.500000] Run /init as init process\n${log.replaceAll('"mono":2', '"mono":4')}`;
    const { out } = await run(['-'], { boot: true, baud: '9600' }, [Buffer.from(boot)]);
    expect(out).toMatch(/^Ready 4\.\d+ s after the boot began\./);
    expect(out).toContain('At 9,600 Bd (as given)');
    const json = JSON.parse((await run(['-'], { boot: true, json: true }, [Buffer.from(boot)])).out);
    expect(json.phases[0]).toEqual({ name: 'kernel', fromS: 0, toS: 1.5 });
    expect((await run(['-'], { boot: true }, [Buffer.from('hello\n')])).err).toContain('no boot was heard');
  });

  it('says what is wrong with its arguments', async () => {
    expect((await refused([])).code).toBe(2);
    expect((await refused(['a', 'b'])).code).toBe(2);
    expect(await refused([join(folder, 'none')])).toMatchObject({ code: 5 });
    expect((await refused([folder])).words).toContain('is a folder');
    expect((await refused([logFile], { baud: 'fast' })).words).toContain('--baud fast');
    expect((await refused([logFile], { level: 'loud' })).words).toContain('one of trace, debug, info, warn, error');
    expect((await refused([logFile], { since: 'yesterday' })).words).toContain('--since yesterday');
  });

  it('understands times', () => {
    const now = Date.UTC(2026, 5, 20, 18, 30);
    expect(parseSince('10m', now)).toBe(now - 600_000);
    expect(parseSince('1.5h', now)).toBe(now - 5_400_000);
    expect(parseSince('14:30', now)).toBe(Date.UTC(2026, 5, 20, 14, 30));
    expect(parseSince('2026-06-20T18:00:00Z', now)).toBe(Date.UTC(2026, 5, 20, 18));
  });
});

const hasPort = (() => {
  if (noPty !== '' || !existsSync('/bin/stty')) return false;
  try {
    return import.meta.resolve('serialport') !== '';
  } catch {
    return false;
  }
})();

/** Settles once `heard` says so; every step is an event of the port. */
const until = () => {
  let done = () => {};
  const promise = new Promise<void>(resolve => {
    done = resolve;
  });
  return { done, promise };
};

describe.skipIf(!hasPort)('a serial port (pending where serialport, koffi or stty are missing)', () => {
  const fault = '{"level":"error","time":1781978400000,"mono":1,"event":"part-fault","part":"webcam","why":"gone"}\r\n';
  const settings = (path: string) => execFileSync('stty', ['-F', path, '-g'], { encoding: 'utf8' });

  it('is read at the speed asked for, and left as it was', async () => {
    const pty = openPty();
    execFileSync('stty', ['-F', pty.path, '38400', 'echo', 'icanon', 'ixon']);
    const before = settings(pty.path);
    const abort = new AbortController();
    const [open, enough] = [until(), until()];
    let text = '';
    let during = '';
    const following = followPort({
      path: pty.path,
      baud: 9600,
      signal: abort.signal,
      heard(bytes) {
        text += Buffer.from(bytes).toString();
        if (text.includes('end\n')) enough.done();
      },
      told: what => what === 'open' && open.done(),
    });
    await open.promise;
    during = settings(pty.path);
    writeSync(pty.masterFd, 'one\r\ntwo\nend\n');
    await enough.promise;
    abort.abort();
    await following;
    expect(text).toBe('one\r\ntwo\nend\n');
    expect(during).not.toBe(before);
    expect(settings(pty.path)).toBe(before);
    closeSync(pty.masterFd);
    closeSync(pty.slaveFd);
  });

  describe('as a program of its own', () => {
    let program: Awaited<ReturnType<typeof bundleProgram>>;
    beforeAll(async () => {
      program = await bundleProgram();
    });
    afterAll(() => program.remove());

    /** It listens and has said something; what is `before` is to be found again when it has ended. */
    const listening = async () => {
      const pty = openPty();
      execFileSync('stty', ['-F', pty.path, '38400', 'echo', 'icanon', 'ixon']);
      const before = settings(pty.path);
      const child = spawn(process.execPath, [program.file, 'listen', pty.path, '--baud', '9600'], {
        stdio: ['ignore', 'pipe', 'inherit'],
      });
      const ended = once(child, 'exit');
      // To a pipe it isn't said when the port is open: something is told until it is heard.
      const talk = setInterval(() => writeSync(pty.masterFd, fault), 20);
      await once(child.stdout, 'data');
      expect(settings(pty.path)).not.toBe(before);
      const close = () => {
        clearInterval(talk);
        expect(settings(pty.path)).toBe(before);
        closeSync(pty.masterFd);
        closeSync(pty.slaveFd);
      };
      return { child, ended, close };
    };

    // SIGHUP: its terminal was closed.
    it.each(['SIGHUP', 'SIGTERM', 'SIGINT'] as const)('leaves the port as it was after %s', async signal => {
      const { child, ended, close } = await listening();
      child.stdout.resume();
      child.kill(signal);
      expect(await ended).toEqual([0, null]);
      close();
    });

    it('leaves the port as it was when the reader of its output has seen enough', async () => {
      const { child, ended, close } = await listening();
      child.stdout.destroy();
      expect(await ended).toEqual([0, null]);
      close();
    });
  });

  // The port dies while it is read: it then gives nothing for ever instead of an error.
  it('is opened again when it comes back', async () => {
    const path = join(folder, 'port');
    const first = openPty();
    symlinkSync(first.path, path);
    const abort = new AbortController();
    const events: string[] = [];
    const [lost, again, enough] = [until(), until(), until()];
    let text = '';
    const following = followPort({
      path,
      baud: 115_200,
      signal: abort.signal,
      againMs: 1,
      heard(bytes) {
        text += Buffer.from(bytes).toString();
        if (text.endsWith('\n')) enough.done();
      },
      told(what) {
        events.push(what);
        if (what === 'lost') lost.done();
        else if (events.length === 1) writeSync(first.masterFd, 'torn');
        else again.done();
        // The name goes first: who opens it again must not meet the port that is dying.
        if (events.length === 1)
          setImmediate(() => {
            unlinkSync(path);
            closeSync(first.masterFd);
          });
      },
    });
    await lost.promise;
    const second = openPty();
    execFileSync('stty', ['-F', second.path, '19200', 'echo', 'icanon', '-ixon']);
    const before = settings(second.path);
    symlinkSync(second.path, path);
    await again.promise;
    writeSync(second.masterFd, 'whole\n');
    await enough.promise;
    abort.abort();
    await following;
    expect(events).toEqual(['open', 'lost', 'open']);
    // As this one was, not as the first one was.
    expect(settings(second.path)).toBe(before);
    expect(text.endsWith('whole\n')).toBe(true);
    for (const fd of [first.slaveFd, second.slaveFd, second.masterFd]) closeSync(fd);
  });

  it('that can’t be opened is refused in words', async () => {
    const fault = followPort({
      path: '/dev/null',
      baud: 9600,
      signal: new AbortController().signal,
      heard() {},
      told() {},
    });
    await expect(fault).rejects.toSatisfy(isFault);
  });
});
