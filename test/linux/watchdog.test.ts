import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { createHardwareWatchdog } from '../../src/linux/watchdog.ts';

let folder = '';
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'watchdog-'));
  vi.useFakeTimers();
});
afterEach(() => {
  vi.useRealTimers();
  rmSync(folder, { recursive: true });
});

describe('the hardware watchdog', () => {
  // Documentation/watchdog/watchdog-api.rst: any write feeds it, and a 'V' before the close disarms it. From memory.
  it('is fed at once and thrice within the usual ten seconds, and told with a V that the end is meant', () => {
    const device = join(folder, 'watchdog0');
    writeFileSync(device, '');
    const notes: string[] = [];
    const watchdog = createHardwareWatchdog(device, why => notes.push(why));
    expect(readFileSync(device, 'latin1')).toBe('\0');
    vi.advanceTimersByTime(10_000);
    expect(readFileSync(device, 'latin1')).toBe('\0'.repeat(4));
    watchdog.close();
    vi.advanceTimersByTime(10_000);
    expect(readFileSync(device, 'latin1')).toBe(`${'\0'.repeat(4)}V`);
    expect(notes).toEqual([]);
  });

  it('that isn’t there is said with its mend, and the camera goes on without', () => {
    const notes: string[] = [];
    createHardwareWatchdog(join(folder, 'none'), why => notes.push(why)).close();
    expect(notes).toEqual([expect.stringMatching(/^watchdog: .*none isn't there \(.+\)$/)]);
  });

  it('that takes no food is said once', () => {
    const notes: string[] = [];
    // A device whose every write fails with ENOSPC: full(4).
    const watchdog = createHardwareWatchdog('/dev/full', why => notes.push(why));
    vi.advanceTimersByTime(60_000);
    watchdog.close();
    expect(notes).toEqual(["watchdog: /dev/full can't be fed (ENOSPC)"]);
  });
});
