import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { createVirtualClock } from '../../sim/clock.ts';
import { loadProfile } from '../../src/config/load-profile.ts';
import { type Boot, createBootWatch } from '../../src/console/boot.ts';
import { bootReport } from '../../src/console/boot-report.ts';
import type { LogRecord } from '../../src/console/read/own.ts';
import { createConsoleParser, type Heard } from '../../src/console/read/stream.ts';
import { encodeCode128 } from '../../src/print/code128.ts';
import { createImprint } from '../../src/print/imprint.ts';
import { createDevelopAgain } from '../../src/record/develop-again.ts';
import { runReplay } from '../../src/record/run-replay.ts';
import { type Board, boardFolder, boot } from './board.ts';
import { bodyConfig, pressFor, pullUp } from './body.ts';
import { createTwin } from './twin.ts';

const config = bodyConfig();

const heardIn = (text: string): Heard[] => {
  const parser = createConsoleParser();
  return [...parser.push(Buffer.from(text, 'latin1')), ...parser.end()];
};
const bootIn = (heard: readonly Heard[]): Boot => {
  const watch = createBootWatch();
  for (const one of heard) {
    const done = watch.take(one);
    if (done?.readyS) return done;
  }
  throw new Error('no boot that was ready');
};
const press = (board: Board) => board.sh(pressFor(0.12));

/** The camera with its log on the board's own console, where the kernel speaks too. */
const createSession = (board: Board, output: string) => {
  let job: Promise<{ code: number }> = Promise.resolve({ code: 0 });
  const console_ = () => readFileSync(`${board.out}.console`, 'latin1');
  const records = (): LogRecord[] => heardIn(console_()).flatMap(one => (one.kind === 'own' ? [one.record] : []));
  const until = async (what: string, there: () => boolean) => {
    for (let passed = 0; !there(); passed += 200) {
      if (passed > 180_000) throw new Error(`waited for ${what}; the console ends: ${console_().slice(-600)}`);
      await sleep(200);
    }
  };
  return {
    console: console_,
    records,
    until,
    count: (event: string) => records().filter(one => one.event === event).length,
    start(more = '') {
      writeFileSync(`${board.out}/config.json`, JSON.stringify(config));
      job = board.start(
        `echo $$ >/tmp/pid; exec node /program/dist/slipshutter.cjs run --config /out/config.json ${more} >${output} 2>/out/err`,
      );
    },
    async end() {
      await board.sh('kill -TERM $(cat /tmp/pid)');
      return job;
    },
  };
};

const replay = (recording: string, against: string | null, album: string | null) =>
  runReplay({
    recording,
    against,
    createClock: createVirtualClock,
    createImprint: ({ config: { camera }, profile }) =>
      createImprint({ widthDots: profile.widthDots, mark: camera.mark, encode: encodeCode128 }),
    developAgain: header => (album === null ? undefined : createDevelopAgain(album, header)),
  });

describe('the console of the emulated board, where kernel and camera speak at once', () => {
  let board: Board;
  let session: ReturnType<typeof createSession>;
  let twin: ReturnType<typeof createTwin>;
  const noises = 6000;
  const pictures = 3;

  beforeAll(async () => {
    board = await boot({ name: 'console', append: '' });
    twin = createTwin(loadProfile('panel-58mm'), bytes => board.answer(bytes));
    board.onPrinted(twin.hear);
    session = createSession(board, '/dev/ttyS0');
    await board.sh(pullUp);
    session.start('--record /out/rec.ndjson');
    await session.until('ready', () => session.count('ready') > 0);
    for (let shot = 1; shot <= pictures; shot++) {
      // The kernel talks into whatever the camera says, as fast as it can.
      const [from, to] = [((shot - 1) * noises) / pictures, (shot * noises) / pictures];
      const noise = board.job(
        `i=${from}; while [ $i -lt ${to} ]; do echo "noise $i of the kernel" >/dev/kmsg; i=$((i+1)); done`,
        120_000,
      );
      await press(board);
      await session.until(`picture ${shot}`, () => session.count('printed') >= shot);
      await noise;
      await sleep(1000);
    }
    await board.sh('rm -rf /out/album; cp -a /state/album /out/album');
    expect((await session.end()).code).toBe(0);
    await session.until('closed', () => session.count('closed') > 0);
  });
  afterAll(async () => {
    twin?.stop();
    await board?.cut();
  });

  it('is read whole: every line of ours, every line of the kernel, once', () => {
    const heard = heardIn(session.console());
    const kernel = heard.flatMap(one => (one.kind === 'kernel' ? [one.text] : []));
    const noise = kernel.filter(text => text.startsWith('noise '));
    expect(noise).toEqual(Array.from({ length: noises }, (_, i) => `noise ${i} of the kernel`));
    expect(heard.filter(({ kind }) => kind === 'damaged')).toEqual([]);
    expect(session.count('printed')).toBe(pictures);
    expect(session.count('kept')).toBe(pictures);
    // A line is torn where a line feed of the kernel's stands between its ends.
    const torn = session
      .console()
      .split('\n')
      .filter(line => line.includes('{"level":"') && !/\}\r?$/.test(line)).length;
    process.stdout.write(`the console: ${heard.length} lines, ${torn} of ours torn by the kernel and mended\n`);
  });

  it('tells where the time of the boot went', () => {
    const found = bootIn(heardIn(session.console()));
    process.stdout.write(bootReport(found, { baud: null, colour: false }));
    expect(found.phases.map(({ name }) => name)).toEqual(['kernel', 'first process', 'node', 'warm-up', 'the rest']);
    expect(found.baud).toBe(1_000_000);
    expect(found.quiet).toBe(false);
    expect(found.bytes.kernel).toBeGreaterThan(5000);
    for (const { fromS, toS } of found.phases) expect(toS).toBeGreaterThanOrEqual(fromS);
  });

  it('has a recording that replays at the desk, line for line and dot for dot', async () => {
    const file = `${board.out}/console.txt`;
    writeFileSync(file, session.console(), 'latin1');
    const result = await replay(`${board.out}/rec.ndjson`, file, `${board.out}/album`);
    expect(result.divergence).toBeNull();
    expect(result.logDivergence).toBeNull();
    // What a part says by itself isn't the machine's: a coil that its guard let go on a slow board.
    expect(result.compared).toBe(
      session.records().filter(({ event }) => !['start', 'stalled', 'dropped', 'coil-fault'].includes(event)).length,
    );
    expect(result.compared).toBeGreaterThan(8 * pictures);
    expect(result.sentBytes).toBeGreaterThan(3 * 10_000);
    process.stdout.write(
      `replayed ${result.inputs} inputs, ${(result.lifeUs / 1e6).toFixed(1)} s of the board: ${result.compared} log lines and ${result.sentBytes} bytes the same\n`,
    );
  });
});

describe('the console of the emulated board, quiet, and a console that nobody reads', () => {
  let board: Board;
  let session: ReturnType<typeof createSession>;
  let twin: ReturnType<typeof createTwin>;

  beforeAll(async () => {
    board = await boot({ name: 'quiet', append: 'quiet' });
    twin = createTwin(loadProfile('panel-58mm'), bytes => board.answer(bytes));
    board.onPrinted(twin.hear);
    await board.sh(pullUp);
  });
  afterAll(async () => {
    twin?.stop();
    await board?.cut();
  });

  it('carries next to nothing of the kernel when it is quiet', async () => {
    session = createSession(board, '/dev/ttyS0');
    session.start();
    await session.until('ready', () => session.count('ready') > 0);
    const found = bootIn(heardIn(session.console()));
    process.stdout.write(bootReport(found, { baud: 1_000_000, colour: false }));
    expect(found.bytes.kernel).toBeLessThan(1000);
    const loud = `${boardFolder}/out/console.console`;
    if (existsSync(loud)) {
      const before = bootIn(heardIn(readFileSync(loud, 'latin1')));
      expect(found.bytes.kernel).toBeLessThan(before.bytes.kernel / 5);
    }
    expect((await session.end()).code).toBe(0);
  });

  it('delays no press when it is jammed, and has the lines once it flows', async () => {
    await board.sh(
      'mkfifo /tmp/jam; ( sleep 100000 </tmp/jam & echo $! >/tmp/sleeper ) ; dd if=/dev/zero of=/tmp/jam bs=65536 count=1',
    );
    const jammed = createSession(board, '/tmp/jam');
    jammed.start('--record /out/jam.ndjson');
    const recorded = () =>
      existsSync(`${board.out}/jam.ndjson`) ? readFileSync(`${board.out}/jam.ndjson`, 'utf8') : '';
    await jammed.until('the webcam', () => recorded().includes('"part":"webcam","kind":"ready"'));
    await sleep(3000);
    await press(board);
    await jammed.until('a kept picture', () => /"part":"album","kind":"kept"/.test(recorded()));
    void board.start('cat /tmp/jam >/out/flows');
    await board.sh('sleep 3; kill -TERM $(cat /tmp/pid); sleep 12; kill $(cat /tmp/sleeper)', 120_000);
    const flowed = heardIn(readFileSync(`${board.out}/flows`, 'latin1')).flatMap(one =>
      one.kind === 'own' ? [one.record] : [],
    );
    const [pressed] = flowed.filter(({ event }) => event === 'press');
    const [coil] = flowed.filter(({ event, stroke }) => event === 'coil' && stroke === 'first');
    // The same as on a console that flows: the coil comes as soon as the contact has settled.
    expect(Number(coil.pressToCoilUs) - Number(pressed.settledUs)).toBeLessThan(5000);
    const freely = heardIn(readFileSync(`${boardFolder}/out/console.console`, 'latin1')).flatMap(one =>
      one.kind === 'own' ? [one.record] : [],
    );
    const usual = freely
      .filter(({ event, stroke }) => event === 'coil' && stroke === 'first')
      .map(({ pressToCoilUs }) => Number(pressToCoilUs));
    process.stdout.write(
      `press to coil on a jammed console: ${coil.pressToCoilUs} µs; on one that flows: ${usual.join(', ')} µs\n`,
    );
    expect(flowed.some(({ event }) => event === 'ready')).toBe(true);
  });
});
