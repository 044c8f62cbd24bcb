import { describe, expect, it } from 'vitest';
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
