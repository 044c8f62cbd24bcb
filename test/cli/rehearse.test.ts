import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { PNG } from 'pngjs';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import command from '../../src/cli/rehearse.ts';
import { refusalOf, runCommand } from './io.ts';

const photosOfDebian = '/usr/lib/python3/dist-packages/skimage/data';
const five = ['astronaut.png', 'chelsea.png', 'coffee.png', 'camera.png', 'motorcycle_left.png'];
const haveAll = five.every(name => existsSync(join(photosOfDebian, name)));

let folder = '';
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'slipshutter-rehearse-'));
  // Small frames and the quickest look: what is tested here is the command.
  const config = { webcam: { widthPx: 160, heightPx: 120 }, picture: { look: 'plain' } };
  writeFileSync(join(folder, 'small.json'), JSON.stringify(config));
  const steps = [
    { do: 'press', atS: 3 },
    { do: 'press', atS: 4 },
    { do: 'fault', atS: 6, fault: 'paper-out', forS: 4 },
    { do: 'fault', atS: 20, fault: 'power-cut', forS: 2 },
    { do: 'press', atS: 27 },
  ];
  writeFileSync(join(folder, 'short.json'), JSON.stringify({ title: 'Short', seed: 5, steps, endS: 32 }));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

type Args = [values: Record<string, string | boolean>, positionals?: string[], aborted?: boolean];
const given = ([values, positionals = [], aborted = false]: Args) =>
  [
    command,
    positionals,
    { config: join(folder, 'small.json'), ...values },
    { signal: aborted ? AbortSignal.abort() : undefined },
  ] as const satisfies Parameters<typeof runCommand>;
const run = (...args: Args) => runCommand(...given(args));
const refused = (...args: Args) => refusalOf(...given(args));
const script = (name: string, content: object | string): string => {
  const file = join(folder, name);
  writeFileSync(file, typeof content === 'string' ? content : JSON.stringify(content, null, 1));
  return file;
};
const out = (name: string) => join(folder, name);
const all = ['index.html', 'log.ndjson', 'printer.bin', 'recording.ndjson', 'strip.png', 'timing.svg'];

describe('rehearse', () => {
  it('leaves everything, and a strip that can be opened', async () => {
    const { code, out: words } = await run({ out: out('first') }, [join(folder, 'short.json')]);
    expect(code).toBe(0);
    expect(readdirSync(out('first')).sort()).toEqual(all);
    expect(words).toMatch(/3 taken, 3 kept, 3 printed/);
    expect(words).toMatch(/1 power cut/);
    const strip = PNG.sync.read(readFileSync(join(out('first'), 'strip.png')));
    expect(strip.width).toBeGreaterThan(400);
    expect(readFileSync(join(out('first'), 'timing.svg'), 'utf8')).toMatch(/^<svg /);
    const log = readFileSync(join(out('first'), 'log.ndjson'), 'utf8')
      .trimEnd()
      .split('\n');
    expect(log.map(line => JSON.parse(line).event)).toContain('printed');
    // A life before and one after the cut.
    const recording = readFileSync(join(out('first'), 'recording.ndjson'), 'utf8');
    expect(recording.match(/"format":"slipshutter-recording"/g)).toHaveLength(2);
  });

  it('the same seed gives the same bytes, another one others', async () => {
    const files = ['printer.bin', 'log.ndjson', 'recording.ndjson', 'strip.png'];
    const bytes = async (name: string, seed: string) => {
      await run({ out: out(name), seed }, [join(folder, 'short.json')]);
      return files.map(file => readFileSync(join(out(name), file)));
    };
    const [one, again, other] = [await bytes('one', '5'), await bytes('again', '5'), await bytes('other', '6')];
    expect(one.every((file, i) => file.equals(again[i]))).toBe(true);
    expect(one.some((file, i) => file.equals(other[i]))).toBe(false);
  });

  it('draws a party, or a calm evening', async () => {
    const calm = await run({ out: out('calm'), presses: '3' });
    expect(calm.out).toMatch(/3 taken, 3 kept, 3 printed/);
    const wild = await run({ out: out('wild'), party: 'random', seed: '4' });
    expect(wild.code).toBe(0);
    expect(wild.out).toMatch(/A party drawn from seed 4/);
  });

  it('plays photos, one a press', async () => {
    const photos = out('photos');
    mkdirSync(photos);
    for (const [name, code] of [
      ['a.png', 30],
      ['b.PNG', 220],
    ] as const) {
      const png = new PNG({ width: 40, height: 40 });
      for (let i = 0; i < png.data.length; i++) png.data[i] = i % 4 === 3 ? 255 : code;
      writeFileSync(join(photos, name), PNG.sync.write(png));
    }
    writeFileSync(join(photos, 'notes.txt'), 'not a photo');
    await run({ out: out('slides'), photos, presses: '3' });
    const lines = readFileSync(join(out('slides'), 'log.ndjson'), 'utf8')
      .trimEnd()
      .split('\n');
    const frames = lines.map(line => JSON.parse(line)).filter(({ event }) => event === 'frame');
    expect(frames).toHaveLength(3);
    expect(frames[0].digest).not.toBe(frames[1].digest);
  });
});

describe.skipIf(!haveAll)(
  'rehearse on the five photographs of Debian’s scikit-image (skipped where they are not installed)',
  () => {
    it('prints every one of them', async () => {
      const photos = out('debian');
      mkdirSync(photos);
      for (const name of five) writeFileSync(join(photos, name), readFileSync(join(photosOfDebian, name)));
      const { out: words } = await run({ out: out('debian-strip'), photos, presses: '5' });
      expect(words).toMatch(/5 taken, 5 kept, 5 printed/);
    });
  },
);

describe('rehearse refuses', () => {
  const short = () => join(folder, 'short.json');

  it.each([
    [
      'an unknown key',
      { steps: [{ do: 'press', atS: 1, holdmS: 3 }], endS: 3 },
      /holdmS: there is no such setting.*holdMs/,
    ],
    ['a wrong range', { steps: [{ do: 'press', atS: -1 }], endS: 3 }, /steps\[0\]\.atS: is -1; allowed/],
    [
      'an unknown fault',
      { steps: [{ do: 'fault', atS: 1, fault: 'paper-ou' }], endS: 3 },
      /fault: is "paper-ou".*paper-out/,
    ],
    ['an unknown step', { steps: [{ do: 'sing', atS: 1 }], endS: 3 }, /steps\[0\]\.do: is "sing"/],
    ['a party without end', { steps: [] }, /endS: is missing/],
  ])('%s, with line and key', async (name, content, words) => {
    const said = await refused({ out: out('never') }, [script(`${name.replaceAll(' ', '-')}.json`, content)]);
    expect(said.code).toBe(2);
    expect(said.words).toMatch(words);
    expect(said.words).toMatch(/line \d+/);
    expect(existsSync(out('never'))).toBe(false);
  });

  it('what is no JSON, and a file that isn’t there', async () => {
    expect((await refused({}, [script('broken.json', '{ "steps": [ }')])).words).toMatch(
      /broken\.json has 2 faults:\n {2}line 1: at '}'/,
    );
    const missing = await refused({}, [out('nowhere.json')]);
    expect(missing.code).toBe(2);
    expect(missing.words).toMatch(/nowhere\.json/);
  });

  it('an empty photo folder, a damaged photo, a folder that isn’t there', async () => {
    mkdirSync(out('empty'));
    mkdirSync(out('damaged'));
    writeFileSync(join(out('damaged'), 'x.png'), Buffer.from('89504e470d0a1a0a0000', 'hex'));
    for (const [photos, words] of [
      ['empty', /no PNG or JPEG photo/],
      ['damaged', /x\.png/],
      ['missing', /missing/],
    ] as const) {
      const said = await refused({ photos: out(photos), out: out('never') }, [short()]);
      expect(said.code).toBe(5);
      expect(said.words).toMatch(words);
    }
    expect(existsSync(out('never'))).toBe(false);
  });

  it('an out folder that can’t be written', async () => {
    writeFileSync(out('file'), '');
    const said = await refused({ out: join(out('file'), 'below') }, [short()]);
    expect(said.code).toBe(5);
    expect(said.words).toMatch(/can’t be written/);
  });

  it('numbers that are none, and two kinds of party at once', async () => {
    expect((await refused({ seed: 'x' }, [short()])).code).toBe(2);
    expect((await refused({ presses: '0' })).code).toBe(2);
    expect((await refused({ party: 'wild' })).code).toBe(2);
    expect((await refused({ presses: '3', party: 'random' })).words).toMatch(/exclude each other/);
    expect((await refused({ live: true, out: out('never') })).words).toMatch(/--out makes no sense/);
    expect((await refused({ live: true }, [short()])).words).toMatch(/plays no script/);
  });

  it('to leave anything half-written when it is interrupted', async () => {
    const said = await refused({ out: out('cut') }, [short()], true);
    expect(said.words).toMatch(/interrupted/);
    expect(existsSync(out('cut')) ? readdirSync(out('cut')) : []).toEqual([]);
    expect(readdirSync(folder).filter(name => name.includes('making'))).toEqual([]);
  });
});
