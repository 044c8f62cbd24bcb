import { closeSync, fsyncSync, openSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { setImmediate as turn } from 'node:timers/promises';
import { findPicture, openShelves, readFrame, type Shelves } from '../album/browse.ts';
import { shotName, wanted } from '../album/layout.ts';
import { type Damage, verifyJournal, verifyPicture } from '../album/verify.ts';
import { findConfigPath, loadConfig } from '../config/load.ts';
import { loadProfile } from '../config/load-profile.ts';
import { Fault } from '../parts/fault.ts';
import { lineOf, listed, paperLeft, timeOf } from './album-row.ts';
import type { Command, Io } from './command.ts';
import { counted } from './counted.ts';
import { textOption } from './given.ts';
import { makeFolder } from './make-folder.ts';
import { nearest } from './nearest.ts';
import { createProgress } from './progress.ts';
import { version } from './version.ts';

const deeds = ['list', 'show', 'reprint', 'export', 'verify'] as const;
type Deed = (typeof deeds)[number];

const usage = (message: string, mend = 'see slipshutter album --help') => new Fault('usage', message, mend);

/** Numbers as a person gives them: `12`, `12-15`, `last`; those that there are. */
const chosen = (words: readonly string[], shots: readonly number[]): number[] => {
  const there = new Set(shots);
  const picked = words.flatMap(word => {
    if (word === 'last') {
      const last = shots.at(-1);
      if (last === undefined) throw usage('the album is empty', '');
      return [last];
    }
    const range = /^(\d{1,9})(?:-(\d{1,9}))?$/.exec(word);
    if (!range) throw usage(`'${word}' is no picture’s number`, 'numbers are like 12, 12-15, or last');
    const [from, to] = [Number(range[1]), Number(range[2] ?? range[1])];
    const found = shots.filter(shot => shot >= from && shot <= to);
    if (found.length === 0 || (from === to && !there.has(from)))
      throw usage(`there is no picture ${word} in the album`, 'see slipshutter album list');
    return found;
  });
  return [...new Set(picked)].sort((a, b) => a - b);
};

/** Numbers of pictures, without the places that wait for one. */
const taken = (shelves: Shelves): number[] => shelves.shots.filter(shot => findPicture(shelves, shot) !== null);

/** Goes through many pictures: shows how far, lets a signal in, and ends where one asks to. */
const each = async (io: Io, shots: readonly number[], visit: (shot: number) => void): Promise<boolean> => {
  const progress = createProgress(io, shots.length, 'pictures');
  for (const [index, shot] of shots.entries()) {
    if (index % 16 === 0) await turn();
    if (io.signal.aborted) break;
    progress.at(index);
    visit(shot);
  }
  progress.end();
  return !io.signal.aborted;
};

const list = async (
  shelves: Shelves,
  shots: readonly number[],
  json: boolean,
  paper: () => string,
  io: Io,
): Promise<number> => {
  let count = 0;
  const whole = await each(json || io.outIsTerminal ? { ...io, errIsTerminal: false } : io, shots, shot => {
    const found = findPicture(shelves, shot);
    if (!found) return;
    const one = listed(shelves, found);
    io.out(json ? `${JSON.stringify(one.row)}\n` : `${lineOf(one)}\n`);
    count++;
  });
  if (!json && whole) io.err(count === 0 ? 'no pictures yet\n' : `${counted(count, 'picture')} in ${shelves.folder}\n`);
  if (!json && whole) io.err(paper());
  return 0;
};

const show = (shelves: Shelves, shots: readonly number[], json: boolean, io: Io): number => {
  for (const shot of shots) {
    const found = findPicture(shelves, shot);
    if (!found) continue;
    const { row, file } = listed(shelves, found);
    const files = found.names.map(name => `${shelves.folder}/${found.place}/${name}`).sort();
    const damage = verifyPicture(shelves, shot).map(one => one.what);
    if (json) {
      io.out(`${JSON.stringify({ ...row, damage, files })}\n`);
      continue;
    }
    io.out(`picture ${shot}\n`);
    if (file) {
      const { frame, about } = file;
      io.out(`  taken         ${timeOf(about.takenAtMs)}\n`);
      io.out(
        `  frame         ${frame.widthPx} × ${frame.heightPx} px, ${frame.format === 'MJPEG' ? 'as JPEG' : 'luma'}\n`,
      );
      io.out(`  press to end of exposure  ${(about.pressToFrameUs / 1000).toFixed(1)} ms\n`);
    }
    io.out(`  on paper      ${row.onPaper}\n`);
    for (const what of damage) io.out(`  damaged       ${what}\n`);
    for (const path of files) io.out(`  ${path}\n`);
  }
  return 0;
};

const syncFolder = (path: string) => {
  const folder = openSync(path, 'r');
  fsyncSync(folder);
  closeSync(folder);
};

/** The camera looks into this folder when it starts, and is told of new names while it runs. */
const reprint = (shelves: Shelves, shots: readonly number[], io: Io): number => {
  for (const shot of shots) {
    const found = findPicture(shelves, shot);
    const read = found && readFrame(shelves, found);
    if (read?.kind === 'damaged')
      throw new Fault('unreadable', `picture ${shot} can’t be printed again: ${read.why}`, '');
  }
  const folder = `${shelves.folder}/${wanted}`;
  try {
    makeFolder(folder);
    for (const shot of shots) writeFileSync(`${folder}/${shotName(shot)}`, '');
    syncFolder(folder);
  } catch (error) {
    const why = (error as Error).message;
    throw new Fault('unwritable', `the camera can’t be asked: ${why}`, 'try it as root or as the camera’s user');
  }
  io.out(`asked for ${shots.join(', ')}: printed now where the camera runs, else when it starts\n`);
  return 0;
};

const exportAll = async (shelves: Shelves, shots: readonly number[], out: string, camera: string, io: Io) => {
  const { exportPng } = await import('../album/export.ts');
  const failed: string[] = [];
  let count = 0;
  const write = (path: string, bytes: Uint8Array) => {
    const part = `${path}.part`;
    try {
      writeFileSync(part, bytes);
      renameSync(part, path);
    } catch (error) {
      rmSync(part, { force: true });
      throw new Fault('unwritable', `${path} can’t be written: ${(error as Error).message}`, 'choose another --out');
    }
  };
  try {
    makeFolder(out);
  } catch (error) {
    throw new Fault('unwritable', `${out} can’t be made: ${(error as Error).message}`, 'choose another --out');
  }
  const whole = await each(io, shots, shot => {
    const found = findPicture(shelves, shot);
    if (!found) return;
    const read = readFrame(shelves, found);
    if (read.kind === 'damaged') return void failed.push(`picture ${shot}: ${read.why}`);
    write(`${out}/${shotName(shot)}.png`, exportPng(read.file, camera, `slipshutter ${version}`));
    count++;
  });
  io.err(`${counted(count, 'picture')} in ${out}${whole ? '' : '; stopped before the end'}\n`);
  if (failed.length > 0)
    throw new Fault('unreadable', `${failed.length} could not be exported:\n  ${failed.join('\n  ')}`, '');
  return 0;
};

const damageLine = ({ shot, what, lost }: Damage): string =>
  `${shot === null ? 'journal' : `picture ${shot}`}: ${what}${lost ? '; it is lost' : ''}\n`;

const verify = async (shelves: Shelves, shots: readonly number[], json: boolean, io: Io): Promise<number> => {
  const damages = verifyJournal(shelves);
  let count = 0;
  const whole = await each(io, shots, shot => {
    damages.push(...verifyPicture(shelves, shot));
    count++;
  });
  const damagedShots = new Set(damages.map(one => one.shot));
  if (json) io.out(`${JSON.stringify({ pictures: count, whole, damages }, null, 2)}\n`);
  else for (const damage of damages) io.out(damageLine(damage));
  if (damages.length > 0)
    throw new Fault(
      'unreadable',
      `${damages.filter(one => one.lost).length} of ${count} pictures are lost, ${damagedShots.size} places are damaged`,
      'copy the album to another card; what is named here is what to look for in a copy',
    );
  if (!json) io.out(`${counted(count, 'picture')}, all whole\n`);
  return 0;
};

const command: Command = {
  name: 'album',
  summary: 'the pictures that were taken',
  usage: 'list | show N | reprint N | export [N] | verify',
  detail: `N is a picture's number, a range such as 12-15, or last; several may be given.
  list      one line a picture
  show      all that is known of it, and its files
  reprint   asks the camera to print it once more: at once where it runs, else when it starts
  export    PNG files with time and figures as text, into --out
  verify    reads every byte, and names every picture that isn't as it was kept (exit code 5)

slipshutter album export --out pictures
slipshutter album reprint last`,
  words: deeds,
  options: {
    config: { type: 'string', value: 'FILE', help: 'configuration of the camera, for its album and name' },
    album: { type: 'string', value: 'FOLDER', help: 'the album’s folder, instead of the configured one' },
    out: { type: 'string', value: 'FOLDER', help: 'where export writes' },
    json: { type: 'boolean', help: 'list and show: one object a line; verify: one object' },
  },
  async run(given, io) {
    const [word, ...numbers] = given.positionals;
    if (word === undefined) throw usage(`what of the album? one of ${deeds.join(', ')}`);
    const guess = nearest(word, deeds);
    if (!deeds.includes(word as Deed))
      throw usage(`album can’t '${word}'`, guess ? `did you mean '${guess}'?` : `one of ${deeds.join(', ')}`);
    const deed = word as Deed;
    const configPath = findConfigPath(textOption(given, 'config'));
    const { config } = loadConfig(configPath);
    const shelves = openShelves(textOption(given, 'album') ?? config.album.folder);
    const json = given.values.json === true;
    const needsNumbers = deed === 'show' || deed === 'reprint';
    if (needsNumbers && numbers.length === 0)
      throw usage(`album ${deed} needs a picture’s number`, 'see slipshutter album list');
    const out = textOption(given, 'out');
    if (deed === 'export' && out === undefined) throw usage('export needs a folder', 'name one by --out');
    const all = taken(shelves);
    const shots = numbers.length === 0 ? all : chosen(numbers, all);
    switch (deed) {
      case 'list':
        return list(
          shelves,
          shots,
          json,
          () => paperLeft(shelves, config, loadProfile(config.printer.profile, configPath)),
          io,
        );
      case 'show':
        return show(shelves, shots, json, io);
      case 'reprint':
        return reprint(shelves, shots, io);
      case 'export':
        return exportAll(shelves, shots, out ?? '', config.camera.name, io);
      case 'verify':
        return verify(shelves, shots, json, io);
    }
  },
};

export default command;
