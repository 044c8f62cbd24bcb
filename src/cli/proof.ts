import { basename, extname, join, relative } from 'node:path';
import { setImmediate as turn } from 'node:timers/promises';
import { findConfigPath, loadConfig } from '../config/load.ts';
import { loadProfile } from '../config/load-profile.ts';
import type { Config } from '../config/schema.ts';
import { hanging } from '../fold.ts';
import type { Dots } from '../parts/darkroom.ts';
import { Fault, isFault } from '../parts/fault.ts';
import { drawWords } from '../picture/caption.ts';
import { createDeveloper } from '../picture/develop.ts';
import { builtInLooks, lookNames, resolveLook } from '../picture/looks.ts';
import type { Luma } from '../picture/luma.ts';
import { createPaperView } from '../picture/on-paper.ts';
import { writePng } from '../picture/png.ts';
import { emptyDots, packRows } from '../picture/strip.ts';
import type { Command, Given, Io } from './command.ts';
import { textOption } from './given.ts';
import { openOutFolder } from './out-folder.ts';
import { readPhoto } from './photo-file.ts';
import { createProgress } from './progress.ts';

const pxPerDot = 3;
const paperMarginDots = 24;

/** Names of looks as they were asked for, each once; 'all' is every one there is. */
const chosenLooks = (asked: readonly string[], { look, looks }: Config['picture']): string[] =>
  asked.length === 0 ? [look] : [...new Set(asked.flatMap(name => (name === 'all' ? lookNames(looks) : [name])))];

/** Strips beside each other, a line of words on each. */
const sideBySide = (views: readonly Luma[]): Luma => {
  const widthPx = views.reduce((sum, view) => sum + view.widthPx, 0);
  const heightPx = Math.max(...views.map(view => view.heightPx));
  const data = new Uint8Array(widthPx * heightPx).fill(255);
  let left = 0;
  for (const view of views) {
    for (let y = 0; y < view.heightPx; y++)
      data.set(view.data.subarray(y * view.widthPx, (y + 1) * view.widthPx), y * widthPx + left);
    left += view.widthPx;
  }
  return { widthPx, heightPx, data };
};

/** The strip with the look's name under it. */
const labelled = (dots: Dots, words: string, dotsPerMm: number): Dots => {
  const height = Math.round(4 * dotsPerMm);
  const whole = emptyDots(dots.widthDots, dots.heightDots + height);
  whole.data.set(dots.data);
  const line = { width: dots.widthDots, height, data: new Uint8Array(dots.widthDots * height) };
  drawWords(words, line, dotsPerMm);
  packRows(line, whole, 0, dots.heightDots, 0, height);
  return whole;
};

/** Names for the proofs: two photos of one name from two folders don't write over each other. */
const titles = (paths: readonly string[]): string[] => {
  const used = new Map<string, number>();
  return paths.map(path => {
    const name = basename(path, extname(path));
    const count = (used.get(name) ?? 0) + 1;
    used.set(name, count);
    return count === 1 ? name : `${name}-${count}`;
  });
};

const run = async (given: Given, io: Io): Promise<number> => {
  const { values, positionals: photos } = given;
  if (photos.length === 0) throw new Fault('usage', 'no photo was named', 'give one or more PNG or JPEG files');
  const configPath = findConfigPath(textOption(given, 'config'));
  const { config } = loadConfig(configPath);
  const named = textOption(given, 'profile');
  const profile = loadProfile(named ?? config.printer.profile, named ? null : configPath);
  const asked = Array.isArray(values.look) ? values.look.map(String) : [];
  const { picture } = config;
  const looks = chosenLooks(asked, picture);
  // A photo is the right way up already, however the webcam sits in the body.
  const upright = { ...picture, rotate: '0', mirror: false } as const;
  const developers = looks.map(name => ({
    name,
    developer: createDeveloper({
      picture: upright,
      look: resolveLook({ look: name, looks: picture.looks }),
      profile,
      cameraName: config.camera.name,
    }),
  }));
  const draw = createPaperView(profile.dotRadius, pxPerDot, paperMarginDots);
  const out = openOutFolder(textOption(given, 'out') ?? 'proofs');
  const names = titles(photos);
  const written: { photo: string; file: string; looks: string[]; inkPercent: number[] }[] = [];
  const refused: Fault[] = [];
  const toPrint: Dots[] = [];
  const progress = createProgress(io, photos.length, 'photos');
  try {
    for (const [index, path] of photos.entries()) {
      progress.at(index);
      await turn();
      if (io.signal.aborted) throw new Fault('usage', 'interrupted: nothing was written', 'run it again');
      try {
        const luma = await readPhoto(path);
        const strips = developers.map(({ developer }) =>
          developer.developLuma(luma, { shot: index + 1, takenAtMs: null }),
        );
        const shown = strips.map((dots, i) =>
          draw(looks.length > 1 ? labelled(dots, looks[i], profile.dotsPerMm) : dots),
        );
        const sheet = sideBySide(shown);
        const file = `${names[index]}.png`;
        const about = { Title: `${names[index]}: ${looks.join(', ')}`, Software: 'slipshutter proof' };
        out.write(file, writePng({ ...sheet, bits: 8, dpi: profile.dotsPerMm * 25.4 * pxPerDot, text: about }));
        written.push({ photo: path, file: join(out.path, file), looks, inkPercent: strips.map(inkOf) });
        toPrint.push(...strips);
      } catch (error) {
        if (!isFault(error)) throw error;
        refused.push(error);
      }
    }
    progress.end();
    out.finish();
  } finally {
    out.abandon();
  }
  if (values.json)
    io.out(`${JSON.stringify({ proofs: written, refused: refused.map(({ message }) => message) }, null, 2)}\n`);
  else
    for (const { file, inkPercent } of written) {
      const inks = inkPercent.map((p, i) => `${looks.length > 1 ? `${looks[i]} ` : ''}${p} %`);
      io.out(hanging(`${relative('.', file)}  `, `${inks.join(', ')} dots`));
    }
  for (const { message, mend } of refused) io.err(`${message}\n${mend ? `  ${mend}\n` : ''}`);
  if (values.print && toPrint.length > 0) {
    const { printDots } = await import('./print-dots.ts');
    await printDots(toPrint, config, profile, io);
  }
  return refused.length > 0 ? 5 : 0;
};

const inkOf = ({ widthDots, heightDots, data }: Dots): number => {
  let dots = 0;
  for (const byte of data) for (let rest = byte; rest !== 0; rest &= rest - 1) dots++;
  return Math.round((100 * dots) / (widthDots * heightDots));
};

const command: Command = {
  name: 'proof',
  summary: 'what a photo will look like on paper',
  usage: 'PHOTO...',
  detail: `Develops photos (PNG, JPEG) as the camera would, and draws the paper with its round, overlapping dots: at paper size when
shown or printed at its own resolution. With several looks, they lie side by side. Of an animated PNG
the first picture counts. A photo that can't be read doesn't stop the others; the exit code then is 5.

  slipshutter proof *.jpg --look soft --look hard
  slipshutter proof cat.png --look all --out proofs
`,
  options: {
    look: {
      type: 'string',
      multiple: true,
      value: 'NAME',
      help: `a look: ${Object.keys(builtInLooks).join(', ')}, one of the configuration, or all; several may be given`,
    },
    out: { type: 'string', value: 'DIR', help: 'where the proofs go (proofs)' },
    print: { type: 'boolean', help: 'print them on the printer of the configuration, too' },
    profile: {
      type: 'string',
      value: 'NAME',
      help: 'printer profile: a class or a file; left out: the configuration’s',
    },
    config: { type: 'string', value: 'FILE', help: 'configuration' },
    json: { type: 'boolean', help: 'what was written as JSON' },
  },
  run,
};
export default command;
