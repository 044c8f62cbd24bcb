import { describe, expect, it } from 'vitest';
import type { LogRecord } from '../../src/console/read/own.ts';
import { createPictureJoiner } from '../../src/console/read/pictures.ts';
import { createConsoleParser } from '../../src/console/read/stream.ts';
import { createView, type ViewOptions } from '../../src/console/view.ts';

process.env.TZ = 'UTC';
const baseMs = Date.UTC(2026, 5, 20, 18);
const record = (mono: number, event: string, fields: object = {}, level = 'info'): LogRecord =>
  ({ level, time: baseMs + Math.floor(mono / 1000), mono, event, ...fields }) as LogRecord;

const picture = (shot: number, atUs: number): LogRecord[] => [
  record(atUs, 'press', { shot, settledUs: 11_000 }),
  record(atUs, 'coil', { shot, pressToCoilUs: 11_400, stroke: 'first' }),
  record(atUs + 1, 'frame', { shot, sequence: 82, pressToFrameUs: 113_107, digest: 'cde16717' }),
  record(atUs + 2, 'kept', { shot, keepUs: 77_228 }),
  record(atUs + 3, 'coil', { shot, pressToCoilUs: 220_335, stroke: 'second' }),
  record(atUs + 4, 'developed', { shot, developUs: 884_736, inkPercent: 71.4 }),
  record(atUs + 5, 'print-begun', { shot, pressToDotUs: 1_043_278 }),
  record(atUs + 6, 'printed', { shot, printUs: 2_857_488, paperLeftMm: 18_973, picturesLeft: 231 }),
];

describe('lines of one picture', () => {
  it('become one record', () => {
    const joiner = createPictureJoiner();
    const done = picture(12, 5e6).map(one => joiner.take(one));
    expect(done.slice(0, -1)).toEqual(Array(7).fill(null));
    expect(done.at(-1)).toEqual({
      picture: 12,
      outcome: 'printed',
      time: baseMs + 5000,
      mono: 5_000_006,
      pressToCoilUs: 11_400,
      pressToFrameUs: 113_107,
      keepUs: 77_228,
      kept: true,
      developUs: 884_736,
      inkPercent: 71.4,
      pressToDotUs: 1_043_278,
      printUs: 2_857_488,
      paperLeftMm: 18_973,
      picturesLeft: 231,
    });
    expect(joiner.pending()).toEqual([]);
  });

  it('may be of several pictures at once, and may be missing', () => {
    const joiner = createPictureJoiner();
    const first = picture(1, 1e6);
    const second = picture(2, 2e6);
    const mixed = [...first.slice(0, 4), ...second.slice(0, 3), first[7], second[5]];
    const done = mixed.map(one => joiner.take(one)).filter(Boolean);
    expect(done).toMatchObject([{ picture: 1, printUs: 2_857_488 }]);
    expect(done[0]?.developUs).toBeUndefined();
    expect(joiner.pending()).toMatchObject([{ picture: 2, outcome: 'pending', pressToFrameUs: 113_107 }]);
  });

  it('say how often a print was cut, and don’t reckon from a press that nobody knows', () => {
    const joiner = createPictureJoiner();
    const last = [
      record(1, 'print-begun', { shot: 3, pressToDotUs: 0 }),
      record(2, 'print-cut', { shot: 3, why: 'paper-out' }, 'warn'),
      record(3, 'print-begun', { shot: 3, pressToDotUs: 0 }),
      record(4, 'printed', { shot: 3, printUs: 1, paperLeftMm: 2, picturesLeft: 3 }),
    ].map(one => joiner.take(one));
    expect(last[3]).toMatchObject({ cuts: 1 });
    expect(last[3]?.pressToDotUs).toBeUndefined();
  });

  it('are forgotten when a picture never ends', () => {
    const joiner = createPictureJoiner();
    for (let shot = 1; shot <= 1000; shot++) joiner.take(record(shot, 'press', { shot, settledUs: 1 }));
    expect(joiner.pending()).toHaveLength(256);
    expect(joiner.pending()[0].picture).toBe(745);
  });
});

const shown = (text: string, options: Partial<ViewOptions> = {}): string[] => {
  const parser = createConsoleParser();
  const view = createView({ colour: false, level: 'info', ...options });
  return [...parser.push(Buffer.from(text)), ...parser.end()].flatMap(heard => view.take(heard)).concat(view.end());
};
const text = (records: readonly LogRecord[]) => records.map(one => `${JSON.stringify(one)}\n`).join('');

describe('what one sees of a console', () => {
  it('is a line a picture, under a head', () => {
    const [empty, head, line, ...more] = shown(text(picture(12, 5e6)));
    expect(empty).toBe('');
    expect(head.trim().split(/ {2,}/)).toEqual([
      'picture',
      'coil',
      'frame',
      'developed',
      'first dot',
      'printed',
      'pictures left',
    ]);
    expect(line).toBe('  18:00:05       12  11 ms  113 ms     0.88 s     1.04 s   2.86 s  231 (18.97 m)');
    expect(head.indexOf('pictures left')).toBe(line.indexOf('231 (18.97 m)'));
    expect(line).toHaveLength(80);
    expect(more).toEqual([]);
  });

  it('has the head again now and then', () => {
    const lines = shown(text(Array.from({ length: 60 }, (_, i) => picture(i + 1, i * 1e6)).flat()));
    expect(lines.filter(line => line.includes('pictures left'))).toHaveLength(3);
  });

  it('tells faults in plain words', () => {
    expect(
      shown(
        text([
          record(1e6, 'waiting', { why: 'lid-open paper-out' }, 'warn'),
          record(9e6, 'resumed', { waitedMs: 8000 }),
          record(10e6, 'refused', { why: 'queue-full' }),
          record(11e6, 'not-kept', { shot: 3, why: 'the disk is full' }, 'error'),
        ]),
      ),
    ).toEqual([
      '  18:00:01  ▲ the print waits: the lid is open, the roll is empty',
      '  18:00:09  · the print goes on after 8.0 s',
      '  18:00:10  · a press was refused: enough pictures wait for the printer',
      '  18:00:11  ■ picture 3 could not be kept and is in memory only: the disk is full',
      '            · not printed yet: picture 3',
    ]);
  });

  it('counts what others say, and shows what is grave', () => {
    const lines = shown(
      `[    0.000000] Linux version 6.1\n[    4.213000] random: ready\n[  OK  ] Started a thing.\n[FAILED] Failed to start another.\nlogin: \n[    9.000000] Out of memory: Killed process 9\n${text([record(10e6, 'webcam-ready')])}`,
    );
    expect(lines).toEqual([
      '            ⋮ 2 kernel lines up to 4.213 s, 1 line of the service manager',
      '            ▲ service manager: Failed to start another.',
      '            ⋮ 1 other line',
      '   9.000 s  ■ kernel: Out of memory: Killed process 9',
      '  18:00:10  · the webcam streams',
    ]);
  });

  it('shows every line from debug on', () => {
    expect(shown('[    4.213000] random: ready\n[  OK  ] Started a thing.\nlogin:\n', { level: 'debug' })).toEqual([
      '   4.213 s  random: ready',
      '        OK  Started a thing.',
      '            login:',
    ]);
  });

  it('leaves out what is below its level, pictures excepted', () => {
    const all = text([
      record(1, 'webcam-ready'),
      ...picture(1, 1e6),
      record(2e6, 'webcam-lost', { why: 'unplugged' }, 'warn'),
    ]);
    const lines = shown(all, { level: 'warn' });
    expect(lines.some(line => line.includes('streams'))).toBe(false);
    expect(lines.at(-1)).toBe('  18:00:02  ▲ the webcam is gone: unplugged');
    expect(lines).toHaveLength(4);
  });

  it('begins where it is told to, pictures begun before included', () => {
    const lines = shown(text([...picture(1, 1e6), ...picture(2, 5e6)]), { sinceMs: baseMs + 5000 });
    expect(lines.filter(line => line.includes(' m)'))).toHaveLength(1);
    expect(lines.at(-1)).toMatch(/^ {2}18:00:05 +2 /);
  });

  it('counts from the boot where the board has no clock', () => {
    const noClock = { ...record(43_100_000, 'webcam-ready'), time: 12_000 };
    expect(shown(text([noClock]))).toEqual(['   +43.1 s  · the webcam streams']);
  });

  it('lets nothing of the console steer the terminal', () => {
    const lines = shown(`\x1b]0;owned\x07\x1b[2J[    1.000000] Out of memory \x1b[31m\x07\n`, { level: 'info' });
    expect(lines.join('')).not.toMatch(/\p{Cc}/u);
    const evil = text([record(1, 'webcam-lost', { why: '\x1b[2Jgone' }, 'warn')]);
    expect(shown(evil).join('')).not.toContain('\x1b');
    expect(shown(`\x07\x1b[2Jhello\n`, { level: 'debug' }).join('')).not.toMatch(/\p{Cc}/u);
  });

  it('has colour only where it is wanted', () => {
    const all = text([...picture(1, 1e6), record(1, 'waiting', { why: 'lost' }, 'warn')]);
    expect(shown(all).join('')).not.toContain('\x1b');
    expect(shown(all, { colour: true }).join('')).toContain('\x1b[33m');
  });
});
