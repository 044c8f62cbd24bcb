import { mkdirSync, renameSync, writeFileSync } from 'node:fs';
import { join, relative } from 'node:path';
import { createInterface } from 'node:readline';
import { loadConfig } from '../config/load.ts';
import { loadProfile } from '../config/load-profile.ts';
import type { Profile } from '../config/profile.ts';
import type { Config } from '../config/schema.ts';
import { Fault } from '../parts/fault.ts';
import type { Bench, Finding, Trial } from '../workshop/tryout/bench.ts';
import { agreed } from '../workshop/tryout/bench.ts';
import { trials } from '../workshop/tryout/trials.ts';
import { withFindings } from '../workshop/tryout/write-findings.ts';
import type { Command, Given, Io } from './command.ts';
import { nearest } from './nearest.ts';

const text = (value: unknown): string | undefined => (typeof value === 'string' ? value : undefined);

interface Place extends Pick<Bench, 'rig' | 'pause' | 'hand'> {
  close(): void;
}

const atDesk = async (config: Config, profile: Profile): Promise<Place> => {
  const { createDeskBench } = await import('../../sim/desk-bench.ts');
  const desk = createDeskBench(config, profile);
  return {
    rig: desk.rig,
    pause: async ms => desk.run(ms),
    hand: (_act, times) => desk.press(times),
    close: desk.close,
  };
};

const onBoard = async (config: Config, profile: Profile, io: Io): Promise<Place> => {
  const [{ createBoardClock }, { createBoardRig }, { throughInlet }] = await Promise.all([
    import('../linux/inlet.ts'),
    import('../linux/rig.ts'),
    import('../record/inlet.ts'),
  ]);
  const { clock, inlet, fromMonotonicUs, stop } = createBoardClock();
  const board = createBoardRig({
    config,
    profile,
    clock,
    inlet,
    fromMonotonicUs,
    log: (event, fields) => io.err(`${event}: ${Object.values(fields).join(' ')}\n`),
  });
  return {
    rig: throughInlet(board.rig, inlet),
    pause: ms => new Promise(resolve => void setTimeout(resolve, ms)),
    hand: () => {},
    close() {
      stop();
      board.close();
    },
  };
};

/** Asks on the terminal; `--yes` answers by itself; an end of input or ^C answers ''. */
const createAsking = (io: Io, yes: boolean) => {
  if (yes)
    return {
      close: () => {},
      ask: async (question: string) => {
        io.out(`${question}y\n`);
        return 'y';
      },
    };
  const lines = createInterface({ input: io.stdin });
  const waiting: ((line: string) => void)[] = [];
  const early: string[] = [];
  let ended = false;
  lines.on('line', line => {
    const next = waiting.shift();
    if (next) next(line);
    else early.push(line);
  });
  lines.on('close', () => {
    ended = true;
    for (const next of waiting.splice(0)) next('');
  });
  io.signal.addEventListener('abort', () => lines.close());
  return {
    close: () => lines.close(),
    ask: (question: string) => {
      io.out(question);
      const line = early.shift();
      if (line !== undefined) return Promise.resolve(line);
      return ended ? Promise.resolve('') : new Promise<string>(resolve => void waiting.push(resolve));
    },
  };
};

const chosen = (names: readonly string[]): readonly Trial[] => {
  if (names.length === 0) return trials;
  const parts = trials.map(({ part }) => part);
  return names.map(name => {
    const trial = trials.find(({ part }) => part === name);
    if (trial) return trial;
    const near = nearest(name, parts);
    throw new Fault(
      'usage',
      `there is no part '${name}' to try out`,
      near ? `did you mean '${near}'?` : `there are ${parts.join(', ')}`,
    );
  });
};

const offerFindings = async (
  findings: readonly Finding[],
  configText: string,
  path: string | null,
  bench: Bench,
): Promise<void> => {
  if (findings.length === 0) return;
  bench.say('\nWhat was found:\n');
  for (const {
    path: [group, key],
    value,
    why,
  } of findings)
    bench.say(`  ${group}.${key} = ${value}  (${why})\n`);
  if (path === null) {
    bench.say('Give --config FILE to have it written there.\n');
    return;
  }
  if (!agreed(await bench.ask(`Write it into ${path}? [y/n] `))) return;
  const beside = `${path}.new`;
  try {
    writeFileSync(beside, withFindings(configText, findings));
    renameSync(beside, path);
  } catch (error) {
    throw new Fault(
      'unwritable',
      `${path}: can’t be written (${(error as Error).message})`,
      'write the values into it by hand',
      { cause: error },
    );
  }
  bench.say('Written; comments are as they were.\n');
};

const run = async (given: Given, io: Io): Promise<number> => {
  const parts = chosen(given.positionals);
  const loaded = loadConfig(text(given.values.config) ?? null);
  const { config } = loaded;
  const profile = loadProfile(config.printer.profile, loaded.path);
  const place = given.values.virtual ? await atDesk(config, profile) : await onBoard(config, profile, io);
  const asking = createAsking(io, given.values.yes === true);
  const outFolder = text(given.values.out) ?? 'out';
  const bench: Bench = {
    ...place,
    config,
    profile,
    say: io.out,
    ask: asking.ask,
    keep(name, bytes) {
      mkdirSync(outFolder, { recursive: true });
      const path = join(outFolder, name);
      writeFileSync(path, bytes);
      return relative('.', path);
    },
  };
  const findings: Finding[] = [];
  try {
    for (const trial of parts) {
      if (io.signal.aborted) break;
      bench.say(`\n${trial.part}: ${trial.does}\n`);
      for (const caution of trial.cautions) bench.say(`  ! ${caution}\n`);
      const consent =
        trial.cautions.length === 0
          ? 'y'
          : await bench.ask('Type yes when all of that is seen to; anything else leaves this part out: ');
      if (!agreed(consent)) {
        bench.say('Left out.\n');
        continue;
      }
      findings.push(...(await trial.run(bench)));
    }
    if (!io.signal.aborted) await offerFindings(findings, loaded.text, loaded.path, bench);
    return 0;
  } finally {
    asking.close();
    place.close();
  }
};

const command: Command = {
  name: 'tryout',
  summary: 'one part at a time, with cautions and consent before anything moves or heats',
  usage: '[PART]... [--virtual] [--config FILE]',
  detail: `Parts: lamp, button, supply, webcam, motor, shutter, printer; without a name all of them in this order, as for a first
bring-up. What is found (settle time, pulse length, travel) is offered for the configuration, whose comments stay.
Stop the service first: two programs can't hold one line.

  slipshutter tryout button shutter --config /etc/slipshutter/slipshutter.json
`,
  options: {
    virtual: { type: 'boolean', help: 'on virtual parts, to see what it does' },
    config: { type: 'string', value: 'FILE', help: 'configuration, and where findings go' },
    yes: { type: 'boolean', help: 'answer every question with yes (for scripts)' },
    out: { type: 'string', value: 'DIR', help: 'where frames go (default: out)' },
  },
  run,
};
export default command;
