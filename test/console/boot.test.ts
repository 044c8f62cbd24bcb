import { execFileSync } from 'node:child_process';
import { describe, expect, it } from 'vitest';
import { type Boot, createBootWatch } from '../../src/console/boot.ts';
import { bootReport, wireS } from '../../src/console/boot-report.ts';
import { createConsoleParser } from '../../src/console/read/stream.ts';

const bootsOf = (text: string): Boot[] => {
  const parser = createConsoleParser();
  const watch = createBootWatch();
  return [...parser.push(Buffer.from(text)), ...parser.end()]
    .map(heard => watch.take(heard))
    .concat(watch.end())
    .filter(boot => boot !== null);
};
const ours = (mono: number, event: string, fields: object = {}) =>
  `${JSON.stringify({ level: 'info', time: 1000 + mono / 1000, mono, event, ...fields })}\r\n`;

/** A boot as an invented board has it; `quiet` leaves the kernel out. */
const boot = ({ quiet = false, baud = 115_200, ready = true, loader = 'loader 2026.04\r\n' } = {}) =>
  [
    loader,
    ...(quiet
      ? []
      : [
          '[    0.000000] Linux version 6.12.0 (a builder)\r\n',
          `[    0.000000] Kernel command line: console=ttyS0,${baud}n8 root=/dev/mmcblk0p2\r\n`,
          '[    0.400000] clk: one\r\n',
          '[    1.100000] mmc0: new card\r\n',
          '[    1.300000] Run /sbin/init as init process\r\n',
          '[  OK  ] Started udev.\r\n',
        ]),
    ours(3_000_000, 'start', { version: '1', config: 'x', nodeMs: 250 }),
    ours(3_100_000, 'album-opened', { pending: 0, nextShot: 1 }),
    ours(4_600_000, 'webcam-ready'),
    ...(ready ? [ours(4_650_000, 'ready', { sinceStartMs: 1650 })] : []),
  ].join('');

describe('a boot', () => {
  it('is parted where the first process, node, our program and the webcam begin', () => {
    const [{ phases, readyS, baud, quiet }] = bootsOf(boot());
    expect(phases).toEqual([
      { name: 'kernel', fromS: 0, toS: 1.3 },
      { name: 'first process', fromS: 1.3, toS: 2.75 },
      { name: 'node', fromS: 2.75, toS: 3 },
      { name: 'warm-up', fromS: 3, toS: 4.6 },
      { name: 'the rest', fromS: 4.6, toS: 4.65 },
    ]);
    expect(readyS).toBe(4.65);
    expect(baud).toBe(115_200);
    expect(quiet).toBe(false);
  });

  it('has its longest silences, with the lines around them', () => {
    const [{ gaps }] = bootsOf(boot());
    expect(gaps.slice(0, 3).map(({ fromS, toS, before, after }) => [fromS, toS, before, after])).toEqual([
      [1.3, 3, 'Run /sbin/init as init process', 'start'],
      [3.1, 4.6, 'album-opened', 'webcam-ready'],
      [0.4, 1.1, 'clk: one', 'mmc0: new card'],
    ]);
  });

  it('counts every byte up to ready, by who said it', () => {
    const text = boot();
    const [{ bytes }] = bootsOf(`${text}[    5.000000] something later\r\n`);
    expect(bytes.kernel + bytes.manager + bytes.own + bytes.other).toBe(Buffer.byteLength(text));
    expect(bytes.other).toBe('loader 2026.04\r\n'.length);
    expect(bytes.manager).toBe('[  OK  ] Started udev.\r\n'.length);
  });

  it('is told from the next one, and from what comes after it', () => {
    const boots = bootsOf(`${boot()}[   90.000000] usb 1-1: gone\r\n${boot({ ready: false })}${boot({ quiet: true })}`);
    expect(boots.map(({ readyS }) => readyS)).toEqual([4.65, null, 4.65]);
    expect(boots[1].lastS).toBe(4.6);
    expect(boots[2].phases[0]).toEqual({ name: 'first process', fromS: 0, toS: 2.75 });
    expect(boots[2].bytes.kernel).toBe(0);
  });

  it('isn’t taken for another when a program that stood still speaks of a moment that is past', () => {
    const late = ours(2_000_000, 'stalled', { lateMs: 4000 });
    const text = boot({ ready: false }).replace(
      '[  OK  ]',
      `[    6.000000] usb 1-1: new\r\n${late}[    6.100000] usb 1-1: there\r\n[  OK  ]`,
    );
    const boots = bootsOf(text);
    expect(boots).toHaveLength(1);
    expect(boots[0].gaps.every(({ fromS, toS }) => !(fromS === 2 && toS === 6.1))).toBe(true);
  });

  it('is known without any word of ours', () => {
    const [{ readyS, phases }] = bootsOf(boot().split('{')[0]);
    expect(readyS).toBeNull();
    expect(phases.map(({ name }) => name)).toEqual(['kernel', 'the rest']);
  });
});

describe('what a console costs', () => {
  it('is ten bits a byte', () => {
    // Calculated, 8N1: ten bits a byte; 0.9 s of boot messages at 115,200 Bd is common practice, no source.
    expect(wireS(10_368, 115_200)).toBeCloseTo(0.9, 10);
    expect(wireS(10_368, 1_000_000)).toBeCloseTo(0.10368, 10);
    // A byte at 9600 Bd, 8N1: 1.04 ms (handbook value of serial interfaces, from memory).
    expect(wireS(1, 9600) * 1000).toBeCloseTo(1.0417, 4);
  });

  it('is told for this speed, for others, and without the kernel’s lines', () => {
    const text = boot();
    const filler = '[    0.500000] x'.padEnd(98, '.');
    const lines = Math.floor((10_368 - Buffer.byteLength(text)) / 100);
    const rest = 10_368 - Buffer.byteLength(text) - lines * 100;
    const longer = text.replace(
      '[    1.1',
      `${`${filler}\r\n`.repeat(lines)}[    0.600000] ${'y'.repeat(rest - 17)}\r\n[    1.1`,
    );
    const [now] = bootsOf(longer);
    const report = bootReport(now, { baud: null, colour: false });
    expect(report).toContain('carried 10,368 bytes');
    expect(report).toContain('At 115,200 Bd (by the kernel’s command line) they take 0.900 s');
    expect(report).toMatch(/at 1,000,000 Bd +0\.104 s, 0\.796 s less/);
    expect(report).toMatch(/with 'quiet' +up to 0\.\d+ s less/);
    expect(report).toContain('Ready 4.650 s after the boot began.');
    expect(bootReport(now, { baud: 1_500_000, colour: false })).not.toContain('at 1,000,000 Bd');
  });

  it('says when the speed is only assumed, and when quiet is set', () => {
    const [without] = bootsOf(boot({ quiet: true }));
    expect(bootReport(without, { baud: null, colour: false })).toContain('assumed');
    const [quiet] = bootsOf(boot().replace('root=', 'quiet root='));
    expect(bootReport(quiet, { baud: null, colour: false })).toContain("'quiet' is set already.");
  });

  it('draws a bar for each phase, one behind the other, as wide as it lasted', () => {
    const report = bootReport(bootsOf(boot())[0], { baud: null, colour: false });
    const bars = report
      .split('\n')
      .flatMap(line => /^ {2}(\S.*?) +([·▆]{48}) /.exec(line)?.slice(1, 3).join(' ') ?? []);
    expect(bars).toHaveLength(5);
    const widths = bars.map(bar => [...bar].filter(char => char === '▆').length);
    expect(widths).toEqual([13, 15, 3, 17, 1]);
  });
});

const kernelLog = (() => {
  try {
    const text = execFileSync('dmesg', { encoding: 'utf8', stdio: ['ignore', 'pipe', 'ignore'] });
    return /^\[ *\d+\.\d{6}\] /m.test(text) ? text : null;
  } catch {
    return null;
  }
})();

describe.skipIf(kernelLog === null)('the kernel log of this machine (pending where dmesg may not be read)', () => {
  it('is understood line by line', () => {
    const parser = createConsoleParser();
    const text = kernelLog as string;
    const heard = [...parser.push(Buffer.from(text)), ...parser.end()];
    const stamped = text.split('\n').filter(line => /^\[ *\d+\.\d{6}\]/.test(line));
    expect(heard.filter(({ kind }) => kind === 'kernel')).toHaveLength(stamped.length);
    for (const [i, one] of heard.filter(({ kind }) => kind === 'kernel').entries())
      expect(stamped[i]).toContain((one as { text: string }).text);
  });

  it('has a boot that ends in its first process, if that is still in it', () => {
    const [first] = bootsOf(kernelLog as string);
    const init = /^\[ *(\d+\.\d{6})\] Run \S+ as init process/m.exec(kernelLog as string);
    expect(first.firstS).toBeGreaterThanOrEqual(0);
    if (init) expect(first.phases[0]).toEqual({ name: 'kernel', fromS: 0, toS: Number(init[1]) });
  });
});
