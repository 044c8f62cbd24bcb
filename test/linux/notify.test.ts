import { closeSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { afterEach, describe, expect, it, vi } from 'vitest';
import { optionalPackage } from '../../src/linux/native.ts';
import { createServiceNotice, keepAliveMs, unixAddress } from '../../src/linux/notify.ts';

describe('telling the service manager', () => {
  // unix(7): family AF_UNIX (1), then the path; an abstract name begins with a zero, which sd_notify(3) writes as '@'.
  it('makes addresses of paths and of abstract names', () => {
    expect([...unixAddress('/run/n')]).toEqual([1, 0, ...new TextEncoder().encode('/run/n'), 0]);
    expect([...unixAddress('@ab')]).toEqual([1, 0, 0, 97, 98]);
  });

  // sd_watchdog_enabled(3): half of the time is the advice, and the process must be the one that is meant.
  it.each([
    [{ WATCHDOG_USEC: '20000000' }, 10_000],
    [{ WATCHDOG_USEC: '20000000', WATCHDOG_PID: '7' }, 10_000],
    [{ WATCHDOG_USEC: '20000000', WATCHDOG_PID: '8' }, null],
    [{ WATCHDOG_USEC: 'x' }, null],
    [{}, null],
  ])('%o wants to hear every %s ms', (env, ms) => expect(keepAliveMs(env, 7)).toBe(ms));

  it('says nothing where there is no manager', () => {
    const notes: string[] = [];
    const notice = createServiceNotice({}, 1, why => notes.push(why));
    notice.ready();
    notice.status('ready');
    notice.stopping();
    notice.close();
    expect(notes).toEqual([]);
  });
});

const koffi = optionalPackage<typeof import('koffi')>('koffi');

// sd_notify(3): datagrams of VARIABLE=VALUE to the socket that NOTIFY_SOCKET names.
describe.skipIf(!koffi)(`telling it over a real socket${koffi ? '' : ' (koffi isn’t here)'}`, () => {
  const bindSocket = (name: string) => {
    const library = koffi!.load(null);
    const fd: number = library.func('int socket(int, int, int)')(1, 2 | 0o4000, 0);
    const address = unixAddress(name);
    expect(library.func('int bind(int, void *, unsigned int)')(fd, address, address.length)).toBe(0);
    const recv = library.func('long recv(int, void *, size_t, int)');
    const bytes = Buffer.alloc(4096);
    const hear = (): string[] => {
      const heard: string[] = [];
      for (let length = Number(recv(fd, bytes, bytes.length, 0)); length > 0; ) {
        heard.push(bytes.toString('utf8', 0, length));
        length = Number(recv(fd, bytes, bytes.length, 0));
      }
      return heard;
    };
    return { hear, close: () => closeSync(fd) };
  };
  afterEach(() => vi.useRealTimers());

  it.each(['a path', 'an abstract name'])('says each thing in one datagram, by %s', kind => {
    const folder = mkdtempSync(`${tmpdir()}/notify-`);
    const name = kind === 'a path' ? `${folder}/socket` : `@slipshutter-test-${process.pid}`;
    const manager = bindSocket(name);
    const notes: string[] = [];
    try {
      const notice = createServiceNotice({ NOTIFY_SOCKET: name }, 7, why => notes.push(why));
      notice.ready();
      notice.status('ready, idle\nand more – é');
      notice.stopping();
      notice.close();
      expect(manager.hear()).toEqual(['READY=1', 'STATUS=ready, idle and more – é', 'STOPPING=1']);
      expect(notes).toEqual([]);
    } finally {
      manager.close();
      rmSync(folder, { recursive: true });
    }
  });

  it('feeds the watchdog at half of its time, until it is closed', () => {
    vi.useFakeTimers();
    const name = `@slipshutter-watchdog-${process.pid}`;
    const manager = bindSocket(name);
    const notice = createServiceNotice({ NOTIFY_SOCKET: name, WATCHDOG_USEC: '20000000', WATCHDOG_PID: '7' }, 7);
    vi.advanceTimersByTime(9_999);
    expect(manager.hear()).toEqual([]);
    vi.advanceTimersByTime(20_001);
    expect(manager.hear()).toEqual(['WATCHDOG=1', 'WATCHDOG=1', 'WATCHDOG=1']);
    notice.close();
    vi.advanceTimersByTime(60_000);
    expect(manager.hear()).toEqual([]);
    manager.close();
  });

  it('notes a manager that is gone, and goes on', () => {
    const notes: string[] = [];
    const notice = createServiceNotice({ NOTIFY_SOCKET: '/nonexistent/socket' }, 7, why => notes.push(why));
    notice.ready();
    expect(notes).toEqual(["the service manager isn't reached: ENOENT"]);
  });
});
