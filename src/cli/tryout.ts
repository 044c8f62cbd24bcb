import { realpathSync, renameSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { findConfigPath, inspectConfig, type Loaded, loadConfig } from '../config/load.ts';
import { loadProfile } from '../config/load-profile.ts';
import { Fault } from '../parts/fault.ts';
import type { Bench, Finding, Trial } from '../workshop/tryout/bench.ts';
import { summaryText, type Tried, tryParts } from '../workshop/tryout/session.ts';
import { trials } from '../workshop/tryout/trials.ts';
import { newFindings, withFindings } from '../workshop/tryout/write-findings.ts';
import { createAsking } from './asking.ts';
import type { Command, Given, Io } from './command.ts';
import { textOption } from './given.ts';
import { makeFolder } from './make-folder.ts';
import { nearest } from './nearest.ts';
import { atDesk, onBoard } from './tryout-place.ts';

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

const foundText = ({ config }: Loaded, findings: readonly Finding[]): string =>
  findings
    .map(({ path: [group, key], value, why }) => {
      const settings: Record<string, unknown> = config[group as keyof typeof config] as never;
      return `  ${group}.${key} = ${value}, was ${settings[key]}  (${why})\n`;
    })
    .join('');

/** The new text takes the old one's place at once, with its permissions. */
const write = (path: string, written: string): void => {
  const { faults } = inspectConfig(written);
  if (faults.length > 0)
    throw new Fault(
      'config',
      `${path}: with what was found, ${faults[0].what}`,
      `${faults[0].mend}; nothing was written`,
    );
  try {
    const real = realpathSync(path);
    const beside = `${real}.new`;
    writeFileSync(beside, written, { mode: statSync(real).mode & 0o777 });
    renameSync(beside, real);
  } catch (error) {
    throw new Fault(
      'unwritable',
      `${path}: can’t be written (${(error as Error).message})`,
      'run it as its owner (sudo), or write the values into it by hand',
      { cause: error },
    );
  }
};

const offer = async (
  loaded: Loaded,
  findings: readonly Finding[],
  io: Io,
  agrees: (question: string) => Promise<boolean>,
) => {
  const fresh = newFindings(loaded.config, findings);
  if (fresh.length === 0) return;
  io.out(`\nWhat was found:\n${foundText(loaded, fresh)}`);
  if (loaded.path === null) {
    io.out('Give --config FILE to have it written there.\n');
    return;
  }
  if (!(await agrees(`Write it into ${loaded.path}?`))) {
    io.out('Nothing was written.\n');
    return;
  }
  write(loaded.path, withFindings(loaded.text, fresh));
  io.out('Written; comments are as they were.\n');
};

const run = async (given: Given, io: Io): Promise<number> => {
  const parts = chosen(given.positionals);
  const virtual = given.values.virtual === true;
  const yes = given.values.yes === true;
  const named = textOption(given, 'config');
  // What virtual parts say has no business in the board's own configuration, unless it is named.
  const loaded = loadConfig(virtual ? (named ?? null) : findConfigPath(named));
  const profile = loadProfile(loaded.config.printer.profile, loaded.path);
  const names = parts.map(({ part }) => part);
  io.out(`configuration: ${loaded.path ?? 'every default'}${virtual ? '; virtual parts, figures of a model' : ''}\n`);
  if (parts.length > 1)
    io.out(
      `${parts.length} parts, what can’t hurt first, what heats last: ${names.join(', ')}.\nControl-C stops at any moment; everything is off then.\n`,
    );

  // A terminal that goes away must not leave a line driven.
  const hangUp = () => process.kill(process.pid, 'SIGTERM');
  process.once('SIGHUP', hangUp);
  const tried: Tried[] = [];
  const asking = createAsking(io);
  const outFolder = textOption(given, 'out') ?? 'out';
  try {
    const place = virtual ? await atDesk(loaded.config, profile, io) : await onBoard(loaded.config, profile, names, io);
    const bench: Bench = {
      ...place,
      profile,
      say: io.out,
      async sees(question) {
        if (yes) return null;
        const noticed = place.noticed();
        return asking.yesNo(`${noticed === '' ? '' : `  at the desk: ${noticed}\n`}${question}`);
      },
      keep(name, bytes) {
        makeFolder(outFolder);
        const path = join(outFolder, name);
        writeFileSync(path, bytes);
        return path;
      },
    };
    try {
      const consent = async (question: string) => {
        const agrees = yes || (await asking.consent(question));
        place.noticed();
        return agrees;
      };
      await tryParts(parts, bench, consent, tried);
    } finally {
      place.close();
    }
    io.out(`\nWhat was tried:\n${summaryText(tried)}`);
    const findings = tried.flatMap(one => one.findings);
    await offer(loaded, findings, io, yes ? async () => true : asking.yesNo);
    return tried.some(({ verdict }) => verdict === 'fails') ? 4 : 0;
  } catch (error) {
    const lost = newFindings(
      loaded.config,
      tried.flatMap(one => one.findings),
    );
    if (lost.length > 0) io.out(`\nFound so far, not written:\n${foundText(loaded, lost)}`);
    throw error;
  } finally {
    asking.close();
    process.off('SIGHUP', hangUp);
  }
};

const command: Command = {
  name: 'tryout',
  summary: 'one part at a time, with cautions and consent before anything moves or heats',
  usage: '[PART]... [--virtual] [--config FILE]',
  detail: `Parts: lamp, button, supply, webcam, motor, shutter, printer; without a name all of them in this order, as for a first
bring-up. What is found (settle time, pulse length, travel) is offered for the configuration, whose comments stay.
Parts that aren't tried are left alone. Exit code 4: one of them does not work yet.
Stop the service first (systemctl stop slipshutter): two programs can't hold one line.

  slipshutter tryout button shutter --config /etc/slipshutter/slipshutter.json`,
  words: trials.map(({ part }) => part),
  options: {
    virtual: { type: 'boolean', help: 'on virtual parts, to see what it does' },
    config: {
      type: 'string',
      value: 'FILE',
      help: 'configuration, and where findings go (default: that of the service)',
    },
    yes: { type: 'boolean', help: 'consents to every caution (for scripts); nobody is asked what they see' },
    out: { type: 'string', value: 'DIR', help: 'where frames go (default: out)' },
  },
  run,
};
export default command;
