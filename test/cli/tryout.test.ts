import { spawn, spawnSync } from 'node:child_process';
import {
  existsSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { bundleProgram, noTerminal, startInTerminal } from './terminal.ts';

const commented = `{
  // wired on a Sunday
  "button": { "settleMs": 5 /* too short */ },
  "webcam": { "widthPx": 160, "heightPx": 120 },
  // the coil from the drawer
  "shutter": {
    "longestPulseMs": 60
  }
}
`;

describe.skipIf(noTerminal !== '')(`tryout in a terminal${noTerminal}`, () => {
  const folder = mkdtempSync(join(tmpdir(), 'tryout-'));
  let program: Awaited<ReturnType<typeof bundleProgram>>;
  let files = 0;
  const config = (text = commented): string => {
    const path = join(folder, `camera-${files++}.json`);
    writeFileSync(path, text);
    return path;
  };
  const start = (...args: string[]) => startInTerminal(program.file, ['tryout', '--virtual', ...args], folder);

  beforeAll(async () => {
    program = await bundleProgram();
  });
  afterAll(() => {
    program.remove();
    rmSync(folder, { recursive: true });
  });

  /** Every question of the whole bring-up, as far as its words tell it apart, with a good answer. */
  const wholeWay: [question: string, answer: string][] = [
    ['did it blink? [y/n] ', 'y'],
    ['leaves this part out: ', 'yes'],
    ['in first, then out? [y/n] ', 'y'],
    ['at 120 ms, without strain at either end? [y/n] ', 'y'],
    ['at 200 ms, without strain at either end? [y/n] ', 'n'],
    ['leaves this part out: ', 'yes'],
    ['Did the shutter click? [y/n] ', 'y'],
    ['clean clicks at 5 ms? [y/n] ', 'no'],
    ['clean clicks at 8 ms? [y/n] ', 'y'],
    ['leaves this part out: ', 'yes'],
    ['both edges marked? [y/n] ', 'y'],
    ['Write it into', 'y'],
  ];

  it('the whole bring-up: order, cautions, consent, and the configuration written with its comments', async () => {
    const path = config();
    const session = start('--config', path);
    for (const [question, answer] of wholeWay) {
      await session.until(question);
      session.type(answer);
    }
    expect(await session.ended).toBe(0);
    const shown = session.shown();
    const order = ['lamp (1 of 7)', 'button (2', 'supply (3', 'webcam (4', 'motor (5', 'shutter (6', 'printer (7'];
    expect(order.map(words => shown.indexOf(words))).toEqual(
      order.map(words => shown.indexOf(words)).sort((a, b) => a - b),
    );
    expect(shown).toContain('hundreds of volts');
    expect(shown).toContain('at the desk: coil on 3 ×, click 3 ×');
    expect(shown.indexOf('  press 10: closed for')).toBeGreaterThan(shown.indexOf('The contact is open now.'));
    expect(shown).toContain('Written; comments are as they were.');
    const written = readFileSync(path, 'utf8');
    expect(written).toBe(
      commented
        .replace('"settleMs": 5', '"settleMs": 7')
        .replace('"longestPulseMs": 60\n', '"longestPulseMs": 60,\n    "pulseMs": 12\n')
        .replace('  }\n}', '  },\n  "motor": {\n    "travelMs": 120\n  }\n}'),
    );
    expect(readdirSync(folder).filter(name => name.endsWith('.new'))).toEqual([]);
    expect(existsSync(join(folder, 'out/webcam.png'))).toBe(true);
  });

  it.each(wholeWay.map(([question], at) => [at + 1, question, at] as const))(
    '^C at question %i, %s: everything is off, exit code 2, the configuration untouched',
    async (_number, _question, at) => {
      const path = config();
      const session = start('--config', path);
      for (const [question, answer] of wholeWay.slice(0, at)) {
        await session.until(question);
        session.type(answer);
      }
      await session.until(wholeWay[at][0]);
      session.control('c');
      expect(await session.ended).toBe(2);
      expect(session.shown()).toContain('stopped: everything is off');
      // The desk itself counts what is still on, and calls it a fault of the program.
      expect(session.shown()).not.toContain('still on');
      expect(session.shown().includes('Found so far, not written')).toBe(at > 0);
      expect(readFileSync(path, 'utf8')).toBe(commented);
    },
  );

  it('only a typed yes is consent; what is left out stays out', async () => {
    const session = start('motor', 'shutter', 'printer');
    for (const answer of ['y', '', 'no']) {
      await session.until('leaves this part out: ');
      session.type(answer);
    }
    expect(await session.ended).toBe(0);
    expect(session.shown().match(/Left out\./g)?.length).toBe(3);
    expect(session.shown()).not.toMatch(/One pulse|A short drive|test pattern is printed/);
  });

  it('what was typed before the cautions stood there is no consent', async () => {
    const session = start('webcam', 'motor');
    await session.until('YUYV');
    for (let i = 0; i < 3; i++) session.type('yes');
    await session.until('leaves this part out: ');
    session.type('no');
    expect(await session.ended).toBe(0);
    expect(session.shown()).toContain('motor   left out');
  });

  it('takes its answers from a pipe, too', async () => {
    const { status, stdout } = spawnSync(process.execPath, [program.file, 'tryout', '--virtual', 'motor'], {
      cwd: folder,
      input: 'yes\nn\nn\n',
      encoding: 'utf8',
    });
    expect([status, stdout]).toEqual([4, expect.stringContaining('look at the bridge’s supply')]);
  });

  it('asks again until it is told y or n', async () => {
    const session = start('lamp');
    await session.until('did it blink? [y/n] ');
    session.type('perhaps');
    await session.until('Type y or n: ');
    session.type('');
    await session.until('Type y or n: ');
    session.type('n');
    expect(await session.ended).toBe(4);
    expect(session.shown()).toContain('lamp  does not work yet');
  });

  it('^D, an end of input, is no answer', async () => {
    const session = start('lamp');
    await session.until('did it blink? [y/n] ');
    session.control('d');
    expect(await session.ended).toBe(2);
    expect(session.shown()).toContain('the input ended before this was answered: everything is off');
  });

  it('^C while a part is driven stops it at once', async () => {
    const session = start('printer');
    await session.until('leaves this part out: ');
    session.type('yes');
    await session.until('The test pattern is printed');
    session.control('c');
    expect(await session.ended).toBe(2);
    expect(session.shown()).not.toMatch(/Printed in|still on/);
  });

  it('a terminal that goes away is as ^C', async () => {
    const child = spawn(process.execPath, [program.file, 'tryout', '--virtual', 'lamp'], { cwd: folder });
    let said = '';
    child.stderr.on('data', piece => {
      said += piece;
    });
    let shown = '';
    child.stdout.on('data', piece => {
      shown += piece;
      if (shown.endsWith('[y/n] ')) child.kill('SIGHUP');
    });
    expect(await new Promise(done => void child.on('close', done))).toBe(2);
    expect(said).toContain('stopped: everything is off');
  });

  it('nothing is written when it isn’t wanted; without a file it says how', async () => {
    const path = config();
    const refusing = start('button', '--config', path);
    await refusing.until('Write it into');
    refusing.type('n');
    expect(await refusing.ended).toBe(0);
    expect(refusing.shown()).toContain('Nothing was written.');
    expect(readFileSync(path, 'utf8')).toBe(commented);
    const nowhere = start('button');
    expect(await nowhere.ended).toBe(0);
    expect(nowhere.shown()).toContain('Give --config FILE');
  });

  it('--yes consents for scripts, concludes nothing that nobody saw, and writes through a link with its permissions', async () => {
    const path = config();
    const link = `${path}.link`;
    symlinkSync(path, link);
    const mode = statSync(path).mode;
    const session = start('--yes', '--config', link);
    expect(await session.ended).toBe(0);
    expect(session.shown()).not.toContain('[y/n]');
    expect(session.shown()).toContain('shutter  was driven; nobody was there to judge it');
    expect(readFileSync(link, 'utf8')).toBe(commented.replace('"settleMs": 5', '"settleMs": 7'));
    expect(readFileSync(path, 'utf8')).toBe(readFileSync(link, 'utf8'));
    expect(statSync(path).mode).toBe(mode);
  });

  it('what is found as it is configured is not asked about', async () => {
    const session = start('button', '--config', config('{ "button": { "settleMs": 7 } }'));
    expect(await session.ended).toBe(0);
    expect(session.shown()).not.toContain('What was found');
  });

  it('a misspelt part or a broken configuration is refused before anything is touched', async () => {
    const part = start('shuter');
    expect(await part.ended).toBe(2);
    expect(part.shown()).toContain("did you mean 'shutter'?");
    const broken = start('lamp', '--config', config('{ "lmap": {} }'));
    expect(await broken.ended).toBe(2);
    expect(broken.shown()).toContain("did you mean 'lamp'?");
    expect(broken.shown()).not.toContain('configuration:');
  });
});
