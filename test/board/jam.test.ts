import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { loadProfile } from '../../src/config/load-profile.ts';
import { createConsoleParser } from '../../src/console/read/stream.ts';
import { type Board, boot } from './board.ts';
import { bodyConfig, coilChangesIn, pressFor, pullUp, readBase, tracing, vivid } from './body.ts';
import { createTwin } from './twin.ts';

const presses = 5;
const settleUs = 8000;
/** Presses that are refused, so that the log runs over: each is a line of some 90 bytes, and 48 kB may wait. */
const mashed = 700;
/** The emulator wakes a thread as late as this now and then; a press that waited for the console would be seconds late. */
const toleranceMs = 60;
const config = bodyConfig();
const middle = (values: readonly number[]) => [...values].sort((a, b) => a - b)[values.length >> 1];

describe('the console’s UART, with nobody at its other end', () => {
  let board: Board;
  let twin: ReturnType<typeof createTwin>;
  const delaysMs: Record<'free' | 'jammed', number[]> = { free: [], jammed: [] };
  let bytesWhileJammed = -1;

  const text = (name: string) =>
    existsSync(`${board.out}/${name}`) ? readFileSync(`${board.out}/${name}`, 'utf8') : '';
  const heard = () => {
    const parser = createConsoleParser();
    const all = [...parser.push(Buffer.from(board.console(), 'latin1')), ...parser.end()];
    return all.flatMap(one => (one.kind === 'own' ? [one.record] : []));
  };
  const until = async (what: string, there: () => boolean, ms = 120_000) => {
    for (let passed = 0; !there(); passed += 100) {
      if (passed > ms) throw new Error(`waited for ${what}; the console ends: ${board.console().slice(-600)}`);
      await sleep(100);
    }
  };
  /** Times by the kernel, ms: of each press, and of each time that the coil went on. */
  const traced = () => {
    const trace = text('trace');
    return {
      presses: [...trace.matchAll(/ (\d+\.\d{6}): tracing_mark_write: press/g)].map(([, s]) => Number(s) * 1e3),
      strokes: coilChangesIn(trace, Number(text('base')))
        .filter(({ on }) => on)
        .map(({ atUs }) => atUs / 1e3),
    };
  };
  const pressed = async (into: number[]) => {
    const before = traced();
    await board.sh(`echo press >${tracing}/trace_marker; ${pressFor(0.08)}`);
    await until('both strokes', () => traced().strokes.length >= before.strokes.length + 2);
    const { presses, strokes } = traced();
    into.push(strokes[before.strokes.length] - presses[presses.length - 1]);
    // Its print is over before the next one.
    let length = -1;
    for (let still = 0; still < 3; still++) {
      await sleep(500);
      if (twin.paper.length !== length || twin.paper.length === 0) still = 0;
      length = twin.paper.length;
    }
  };
  const recorded = (test: RegExp) => text('rec.ndjson').match(test)?.length ?? 0;

  beforeAll(async () => {
    board = await boot({ name: 'jam', wire: true });
    twin = createTwin(loadProfile('panel-58mm'), bytes => board.answer(bytes));
    board.onPrinted(twin.hear);
    writeFileSync(`${board.out}/config.json`, JSON.stringify(config));
    await board.sh(
      `${readBase} >/out/base; ${pullUp}; echo 1 >${tracing}/events/gpio/gpio_value/enable; cat ${tracing}/trace_pipe >/out/trace 2>/dev/null </dev/null &`,
    );
    void board.start(
      'echo $$ >/tmp/pid; exec node /program/dist/slipshutter.cjs run --config /out/config.json --record /out/rec.ndjson >/dev/ttyS0 2>/out/err',
    );
    await until('ready', () => heard().some(({ event }) => event === 'ready'));
    await pressed([]);
    for (let i = 0; i < presses; i++) await pressed(delaysMs.free);

    board.jam(true);
    // Somebody else talks until the line takes no more, and goes on wanting to.
    await board.sh(
      '( yes filler | dd of=/dev/ttyS0 bs=512 2>/dev/null ) </dev/null >/dev/null 2>&1 & sleep 1; pidof dd >/tmp/filler',
    );
    const taken = async () => Number(await board.sh("sed -n 's/^wchar: //p' /proc/$(cat /tmp/filler)/io"));
    for (let last = -1, now = await taken(); now !== last; ) {
      await sleep(2000);
      [last, now] = [now, await taken()];
      bytesWhileJammed = now;
    }
    for (let i = 0; i < presses; i++) await pressed(delaysMs.jammed);

    await board.sh(`echo vivid.0 >${vivid}/unbind; sleep 2; echo mash >${tracing}/trace_marker`);
    const levels = recorded(/"kind":"level","down":true/g);
    await board.sh(
      `i=0; while [ $i -lt ${mashed} ]; do ${pressFor(0.02)}; sleep 0.02; i=$((i+1)); done; sleep 1`,
      300_000,
    );
    await until('the last of them', () => recorded(/"kind":"level","down":true/g) > levels + mashed / 2);
    await sleep(3000);
    await board.sh('kill $(cat /tmp/filler); sleep 0.5');
    board.jam(false);
    await until('the lines that wait', () => heard().some(({ event }) => event === 'dropped'));
    await sleep(5000);
    process.stdout.write(
      `press to coil by the kernel: ${delaysMs.free.map(ms => ms.toFixed(1)).join(', ')} ms on a console that flows, ${delaysMs.jammed.map(ms => ms.toFixed(1)).join(', ')} ms on a jammed one (middle ${middle(delaysMs.free).toFixed(1)} and ${middle(delaysMs.jammed).toFixed(1)}); ${bytesWhileJammed} bytes of another's were taken before it jammed\n`,
    );
  }, 900_000);
  afterAll(async () => {
    twin?.stop();
    await board?.cut();
  });

  it('delays no press: by the kernel’s tracepoint, coil follows finger as it does on one that flows', () => {
    expect(bytesWhileJammed).toBeGreaterThan(0);
    expect(delaysMs.jammed).toHaveLength(presses);
    expect(middle(delaysMs.jammed)).toBeLessThan(middle(delaysMs.free) + toleranceMs);
    // The longest may have met a busy host; one that waited for the console would have waited until it flowed.
    expect(Math.max(...delaysMs.jammed)).toBeLessThan(Math.max(...delaysMs.free) + 1000);
  });

  it('gives up lines, counts them, and says so once it flows again', async () => {
    const all = heard();
    const blindFrom = all.findLastIndex(({ event }) => event === 'webcam-lost');
    expect(blindFrom).toBeGreaterThan(0);
    const after = all.slice(blindFrom);
    const dropped = after.filter(({ event }) => event === 'dropped').reduce((sum, { lines }) => sum + Number(lines), 0);
    const refused = after.filter(({ event, why }) => event === 'refused' && why === 'blind').length;
    const inputs = text('rec.ndjson')
      .split('\n')
      .filter(line => line.endsWith('}'))
      .map(line => JSON.parse(line) as Record<string, unknown>);
    const lost = inputs.findLastIndex(({ part, kind }) => part === 'webcam' && kind === 'lost');
    const levels = inputs.slice(lost).filter(({ part, kind }) => part === 'button' && kind === 'level');
    // A contact that was made, and stayed so for as long as counts: edges that come too fast for the kernel are lost.
    const made = levels.filter(
      ({ down, atUs }, i) =>
        down === true && levels[i - 1]?.down !== true && Number(levels[i + 1]?.atUs) - Number(atUs) >= settleUs,
    ).length;
    process.stdout.write(`of ${made} presses in the dark ${refused} lines came and ${dropped} were given up\n`);
    expect(dropped).toBeGreaterThan(0);
    expect(refused + dropped).toBe(made);
    // And it goes on: the next press is told of.
    const before = heard().filter(({ event }) => event === 'refused').length;
    await board.sh(`${pressFor(0.1)}`);
    await until('the next line', () => heard().filter(({ event }) => event === 'refused').length > before);
  });
});
