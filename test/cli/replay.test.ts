import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { makeFrameFile } from '../../src/album/frame-file.ts';
import { picturePath } from '../../src/album/layout.ts';
import replay from '../../src/cli/replay.ts';
import { edited, recordScript, scriptOf } from '../record/desk.ts';
import { refusalOf, runCommand } from './io.ts';

const folder = mkdtempSync(join(tmpdir(), 'replay-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const file = (name: string, content: string) => {
  writeFileSync(join(folder, name), content);
  return join(folder, name);
};

const party = recordScript(
  scriptOf(
    [
      { do: 'press', atS: 3 },
      { do: 'fault', fault: 'power-cut', atS: 3.6, forS: 2 },
      { do: 'press', atS: 9 },
      { do: 'press', atS: 12 },
    ],
    25,
    3,
  ),
);
const recording = file('recording.ndjson', party.lives.map(({ text }) => text).join(''));
const logText = party.lives.map(({ log }) => log).join('');
const log = file('log.ndjson', logText);

const run = (positionals: string[], values: Record<string, string | boolean> = {}) =>
  runCommand(replay, positionals, values);
const refused = (positionals: string[], values: Record<string, string | boolean> = {}) =>
  refusalOf(replay, positionals, values);

describe('replay', () => {
  it('says that it went the same way', async () => {
    const { out, code, err } = await run([recording]);
    expect(code).toBe(0);
    expect(out).toMatch(/^replayed +\d+ inputs of 2 lives, .* × life$/m);
    expect(out).toContain('the same, from the first input to the last');
    expect(err).toBe('');
  });

  it('compares with the log, every line of it', async () => {
    const { out, code } = await run([recording], { against: log, json: true });
    expect(code).toBe(0);
    expect(JSON.parse(out)).toMatchObject({
      same: true,
      lives: 2,
      pictures: 3,
      missing: 0,
      compared: logText.trimEnd().split('\n').length,
    });
  });

  it('finds its log in a console, between lines of others and other boots', async () => {
    const lines = logText.trimEnd().split('\n');
    const start = '{"level":"info","time":1,"mono":2,"event":"start","version":"1","config":"x","nodeMs":40}';
    const console_ = [
      '[    0.000000] Linux version 6.1',
      '{"level":"info","time":1700000000000,"mono":900000000,"event":"webcam-ready"}',
      start,
      ...lines.flatMap((line, i) => [line, `[  ${String(100 + i)}.000000] noise ${i}`]),
      '{"level":"info","time":1900000000000,"mono":99000000,"event":"webcam-ready"}',
    ].join('\r\n');
    const { code, out } = await run([recording], { against: file('console', console_), json: true });
    expect(out).toContain('"same":true');
    expect(JSON.parse(out).compared).toBe(lines.length);
    expect(code).toBe(0);
  });

  it('lets lines be missing that a slow console dropped, and no others', async () => {
    const lines = logText.trimEnd().split('\n');
    const dropped = (count: number) => `{"level":"warn","time":1,"mono":2,"event":"dropped","lines":${count}}`;
    const without = (said: number) => [...lines.slice(0, 5), dropped(said), ...lines.slice(8)].join('\n');
    expect(JSON.parse((await run([recording], { against: file('thin', without(3)), json: true })).out)).toMatchObject({
      same: true,
      missing: 3,
    });
    expect((await run([recording], { against: file('thinner', without(2)) })).code).toBe(3);
  });

  it('names the first line of the log that came otherwise, with what was before', async () => {
    const at = logText.split('\n').findIndex(line => line.includes('"event":"frame"'));
    const changed = edited(logText, lines =>
      lines.map((line, i) => (i === at ? line.replace(/"pressToFrameUs":\d+/, '"pressToFrameUs":1') : line)),
    );
    const { out, code } = await run([recording], { against: file('changed', changed) });
    expect(code).toBe(3);
    expect(out).toContain(`another way than the log, line ${at + 1} of`);
    expect(out).toMatch(/expected {2}\d+\.\d{6} s {2}frame {2}shot 1, .*pressToFrameUs 1,/);
    expect(out).toMatch(/came {6}\d+\.\d{6} s {2}frame {2}shot 1, .*pressToFrameUs \d{5,},/);
    expect(out).toContain('said before that');
    expect(out).toMatch(/heard before that\n(?:.*\n)*.*webcam frame/);
  });

  it('misses a line that the log has too much, and one that it lacks', async () => {
    const more = edited(logText, lines => [...lines.slice(0, 6), lines[6], ...lines.slice(6)]);
    expect((await run([recording], { against: file('more', more) })).code).toBe(3);
    const less = edited(logText, lines => lines.filter((_, i) => i !== 6));
    expect((await run([recording], { against: file('less', less) })).code).toBe(3);
  });

  it('says when a log is another one’s', async () => {
    const other = recordScript(scriptOf([{ do: 'press', atS: 5 }], 12, 99)).lives[0].log.replaceAll(
      '"time":1',
      '"time":2',
    );
    const { out, code } = await run([recording], { against: file('other', other) });
    expect(code).toBe(3);
    expect(out).toContain('fits what comes first');
  });

  it('names the input from which on it went another way', async () => {
    const text = readFileSync(recording, 'utf8');
    const at = text.split('\n').findIndex(line => line.includes('"kind":"kept"'));
    const { out, code } = await run(
      [
        file(
          'gap',
          edited(text, lines => lines.filter((_, i) => i !== at)),
        ),
      ],
      { against: log },
    );
    expect(code).toBe(3);
    expect(out).toMatch(/another way/);
    expect(out).toMatch(/expected/);
  });

  it('leaves log and bytes, and with --html the report', async () => {
    const out = join(folder, 'out');
    expect((await run([recording], { out, html: true })).code).toBe(0);
    expect(readdirSync(out).sort()).toEqual(['index.html', 'log.ndjson', 'printer.bin', 'strip.png', 'timing.svg']);
    expect(readFileSync(join(out, 'log.ndjson'), 'utf8').startsWith(party.lives[0].log.slice(0, 400))).toBe(true);
    const bytes = readFileSync(join(out, 'printer.bin'));
    const sent = Buffer.from(party.lives.at(-1)?.bytes ?? []);
    expect(bytes.subarray(-sent.length).equals(sent)).toBe(true);
    expect(readFileSync(join(out, 'index.html'), 'utf8')).toContain('printed');
  });

  it('develops frames of an album again, and holds the dots against those that were printed', async () => {
    const album = join(folder, 'album');
    const frame = {
      sequence: 1,
      exposureStartUs: 0,
      exposureEndUs: 1,
      format: 'GREY',
      widthPx: 64,
      heightPx: 64,
      strideBytes: 64,
      range: 'full',
      data: new Uint8Array(4096).fill(90),
    } as const;
    const made = makeFrameFile(1, frame, { takenAtMs: null, pressToFrameUs: 1 });
    if (made.kind !== 'made') throw new Error(made.why);
    const path = join(album, picturePath(1), 'frame.png');
    mkdirSync(dirname(path), { recursive: true });
    writeFileSync(path, made.bytes);
    // The desk's dots are invented, so the pipeline must find them different.
    const { code, out } = await run([recording], { album });
    expect(code).toBe(3);
    expect(out).toMatch(/picture 1/);
    expect((await refused([recording], { album: join(folder, 'nowhere') })).words).toContain('no album is there');
  });

  it('mends a recording that was cut off, and says so', async () => {
    const text = readFileSync(recording, 'utf8');
    const { err, code } = await run([file('cut', text.slice(0, -12))]);
    expect(code).toBe(0);
    expect(err).toMatch(/line \d+ was cut off and is left out/);
  });

  it('refuses what it can’t replay, in words', async () => {
    expect(await refused([])).toMatchObject({ code: 2 });
    expect(await refused([join(folder, 'none')])).toMatchObject({ code: 5 });
    expect((await refused([recording], { against: join(folder, 'none') })).words).toContain('--against');
    expect((await refused([log])).words).toContain('is a log, no recording');
    const text = readFileSync(recording, 'utf8');
    const broken = file(
      'broken',
      edited(text, lines => lines.map((line, i) => (i === 9 ? line.slice(3) : line))),
    );
    expect((await refused([broken])).words).toContain('line 10: isn’t JSON');
    const ring = file('ring', text.replace('"seed":3}', '"seed":3,"lost":12}'));
    expect((await refused([ring])).words).toContain('the first 12 inputs of it are gone');
  });

  it('calls nothing the same that holds no input', async () => {
    const [header] = readFileSync(recording, 'utf8').split('\n');
    for (const [name, text] of [
      ['header', `${header}\n`],
      ['headers', `${header}\n${header}\n`],
    ]) {
      const { code, words } = await refused([file(name, text)]);
      expect(code).toBe(5);
      expect(words).toContain(`${join(folder, name)} holds no input`);
    }
  });
});
