import { execFileSync, spawnSync } from 'node:child_process';
import { copyFileSync, existsSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import { chance } from '../../sim/random.ts';
import { loadProfile } from '../../src/config/load-profile.ts';
import { defaultConfig } from '../../src/config/schema.ts';
import type { LogRecord } from '../../src/console/read/own.ts';
import { createConsoleParser } from '../../src/console/read/stream.ts';
import { type Board, boardFolder, boot } from './board.ts';
import { bodyConfig, coilChangesIn, pressFor, pullUp, readBase, tracing } from './body.ts';
import { forgetWrites, type Loss, losePower } from './disk.ts';
import { createTwin } from './twin.ts';

const name = 'cuts';
export const cameraMark = defaultConfig().camera.mark;
const config = bodyConfig();

interface Life {
  log: LogRecord[];
  /** Times that the kernel saw the coil go on. */
  strokes: number;
  /** Numbers of the pictures that were acknowledged, by kernel or log. */
  acknowledged: number[];
  pressed: boolean;
  cutMs: number | null;
  loss: Loss | null;
  phase: string;
  fileSystem: string;
}

const logOf = (out: string): LogRecord[] => {
  const parser = createConsoleParser();
  return [...parser.push(readFileSync(`${out}.console`)), ...parser.end()].flatMap(one =>
    one.kind === 'own' ? [one.record] : [],
  );
};
const strokesOf = (out: string): number => {
  const path = `${out}/coil`;
  const base = Number(existsSync(`${out}/base`) ? readFileSync(`${out}/base`, 'utf8') : Number.NaN);
  const trace = existsSync(path) ? readFileSync(path, 'utf8') : '';
  return coilChangesIn(trace, base).filter(({ on }) => on).length;
};

/** How far the picture that was pressed for had come, by what had left the board. */
const phaseOf = (log: readonly LogRecord[], strokes: number): string => {
  const pressed = log.findLast(({ event }) => event === 'press');
  if (!pressed) return strokes === 0 ? 'before the first stroke' : 'at the first stroke';
  const said = (event: string) => log.some(one => one.event === event && one.shot === pressed.shot);
  if (said('printed')) return 'printed';
  if (said('print-begun')) return 'printing';
  if (said('developed')) return 'developed';
  if (said('kept')) return 'acknowledged';
  return 'between the strokes';
};

/** The file system's own repair, on a copy: it reads its journal, and then nothing is left to mend. */
const checkFileSystem = (state: string): string => {
  const copy = `${state}.fsck`;
  copyFileSync(state, copy);
  const run = (...args: string[]) => {
    const { status, stdout, stderr } = spawnSync('/sbin/e2fsck', [...args, copy], { encoding: 'utf8' });
    return { status, said: `${stdout}${stderr}` };
  };
  const journal = run('-y', '-E', 'journal_only');
  const check = run('-f', '-n');
  rmSync(copy);
  return (journal.status ?? 8) <= 1 && check.status === 0 ? 'clean' : `${journal.said}\n${check.said}`;
};

/** Presses to the camera, power cuts to the board, one printer with one roll of paper all the while. */
export const createLives = (seed: number) => {
  const draw = chance(seed);
  const out = `${boardFolder}/out/${name}`;
  const profile = loadProfile('panel-58mm');
  let board: Board | null = null;
  const twin = createTwin(profile, bytes => board?.answer(bytes));
  const lives: Life[] = [];

  const until = async (what: string, there: () => boolean, ms = 180_000) => {
    for (let passed = 0; !there(); passed += 100) {
      if (passed > ms) throw new Error(`waited for ${what}; the log ends: ${JSON.stringify(logOf(out).slice(-6))}`);
      await sleep(100);
    }
  };
  const heard = (event: string) => logOf(out).filter(one => one.event === event).length;

  const begin = async (keepState: boolean) => {
    board = await boot({ name, keepState, forgetful: true });
    board.onPrinted(twin.hear);
    twin.control.power(true);
    writeFileSync(`${board.out}/config.json`, JSON.stringify(config));
    await board.sh(
      `${readBase} >/out/base; ${pullUp}; echo 1 >${tracing}/events/gpio/gpio_value/enable; cat ${tracing}/trace_pipe >/out/coil 2>/dev/null </dev/null & dmesg >/out/dmesg`,
    );
    void board.start(
      'export CACHE_DIRECTORY=/state/cache; echo $$ >/tmp/pid; exec node /program/dist/slipshutter.cjs run --config /out/config.json >/dev/ttyS0 2>/out/err',
    );
    await until('ready', () => {
      const why = existsSync(`${out}/err`) ? readFileSync(`${out}/err`, 'utf8') : '';
      if (why) throw new Error(why);
      return heard('ready') > 0;
    });
    return board;
  };
  /** Every picture that the album was opened with is on paper, by the log, and neither log nor paper has moved for a while. */
  const rest = async (stillS: number) => {
    const opened = logOf(out).find(({ event }) => event === 'album-opened');
    await until('what is pending', () => heard('printed') >= Number(opened?.pending), 300_000);
    const state = () => `${readFileSync(`${out}.console`).length} ${twin.paper.length}`;
    let before = '';
    for (let still = 0; still < stillS; still++) {
      await sleep(1000);
      const now = state();
      if (now !== before) still = 0;
      before = now;
    }
  };
  /** Resolves at the press: the guest writes that it pulls the line, since its shell may hear of it late. */
  const press = async (on: Board) => {
    void on.start(`echo now >/out/pressed; ${pressFor(0.08)}`);
    for (let passed = 0; !existsSync(`${out}/pressed`); passed += 2) {
      if (passed > 60_000) throw new Error('the guest’s shell heard of no press');
      await sleep(2);
    }
  };

  const note = (pressed: boolean, cutMs: number | null, loss: Loss | null, fileSystem: string) => {
    const log = logOf(out);
    const strokes = strokesOf(out);
    const told = log
      .filter(({ event, stroke }) => event === 'kept' || (event === 'coil' && stroke === 'second'))
      .map(({ shot }) => Number(shot));
    const shotPressed = log.findLast(({ event }) => event === 'press')?.shot;
    const byKernel = strokes >= 2 ? [Number(shotPressed)] : [];
    lives.push({
      log,
      strokes,
      acknowledged: [...new Set([...told, ...byKernel])],
      pressed,
      cutMs,
      loss,
      phase: phaseOf(log, strokes),
      fileSystem,
    });
  };

  return {
    draw,
    out,
    lives,
    twin,
    /** A press that is let be, and how long it took until the paper rested. */
    async calibrate(): Promise<number> {
      const on = await begin(false);
      await sleep(1000);
      await press(on);
      const beganMs = performance.now();
      await until('printed', () => heard('printed') > 0);
      const lastMs = performance.now() - beganMs;
      await rest(2);
      await on.cut();
      twin.control.power(false);
      const loss = losePower(`${out}.state`, draw.fork('disk'));
      note(true, null, loss, checkFileSystem(`${out}.state`));
      return lastMs;
    },
    async pressAndCut(number: number, longestMs: number) {
      const on = await begin(true);
      const fate = draw.fork(`cut ${number}`);
      // Half of the lives begin with what the last one left: pressed into that, or after it.
      if (fate.hit(0.5)) await rest(2);
      const cutMs = fate.next() * longestMs;
      await press(on);
      await sleep(cutMs);
      await on.cut();
      // The printer loses its power at the same moment of its own time.
      await sleep(twin.behindMs());
      twin.control.power(false);
      const loss = losePower(`${out}.state`, fate);
      note(true, cutMs, loss, checkFileSystem(`${out}.state`));
    },
    /** The last life: everything is printed, then the board is switched off as it should be. */
    async end(): Promise<string> {
      const on = await begin(true);
      await rest(8);
      await on.sh('kill -TERM $(cat /tmp/pid)');
      await until('closed', () => heard('closed') > 0);
      await on.sh('rm -rf /out/album; cp -a /state/album /out/album; dmesg >/out/dmesg; sync; umount /state', 120_000);
      await on.cut();
      note(false, null, null, checkFileSystem(`${out}.state`));
      const album = `${boardFolder}/out/${name}-album`;
      rmSync(album, { recursive: true, force: true });
      execFileSync('cp', ['-a', `${out}/album`, album]);
      return album;
    },
    async stop() {
      twin.stop();
      await board?.cut();
      forgetWrites(`${out}.state`);
    },
  };
};
