import { readdirSync, readFileSync } from 'node:fs';
import { join, relative } from 'node:path';
import type { Rehearsal } from '../../sim/rehearse.ts';
import type { Script } from '../../sim/script.ts';
import { loadConfig, readSettingsFile } from '../config/load.ts';
import { loadProfile } from '../config/load-profile.ts';
import { defaultConfig } from '../config/schema.ts';
import { parseSettings } from '../config/settings.ts';
import { waitInWords } from '../console/words.ts';
import { hanging } from '../fold.ts';
import { Fault } from '../parts/fault.ts';
import type { Command, Given, Io } from './command.ts';
import { counted } from './counted.ts';
import { textOption, wholeOption } from './given.ts';
import { openOutFolder } from './out-folder.ts';
import { packageFile } from './package-file.ts';
import { createProgress } from './progress.ts';

const scriptOf = async (given: Given): Promise<{ script: Script; name: string }> => {
  const [path] = given.positionals;
  const seed = wholeOption(given, 'seed', 0, 2 ** 32 - 1);
  const presses = wholeOption(given, 'presses', 1, 100_000);
  const party = textOption(given, 'party');
  if ([path, presses, party].filter(value => value !== undefined).length > 1)
    throw new Fault('usage', 'a script, --party and --presses exclude each other', 'give one of them');
  if (party !== undefined) {
    if (party !== 'random')
      throw new Fault('usage', `--party ${party}: only 'random' is drawn`, 'a party of your own is a script');
    const { drawFaults } = await import('../../sim/party.ts');
    return { script: drawFaults(seed ?? 1), name: 'a random party' };
  }
  if (presses !== undefined) {
    const { drawCalm } = await import('../../sim/party.ts');
    return { script: drawCalm(seed ?? 1, presses), name: `${presses} presses` };
  }
  const { scriptSchema } = await import('../../sim/script.ts');
  const file = path ?? packageFile('config/parties/demo.json');
  const script = parseSettings(readSettingsFile(file), scriptSchema, file, 'script');
  return { script: seed === undefined ? script : { ...script, seed }, name: file };
};

export const loadPhotos = async (folder: string | undefined) => {
  if (folder === undefined) return [];
  const { decodePhoto } = await import('../picture/image.ts');
  let names: string[];
  try {
    names = readdirSync(folder)
      .filter(name => /\.(png|jpe?g)$/i.test(name))
      .sort();
  } catch (error) {
    throw new Fault(
      'unreadable',
      `--photos ${folder}: can’t be read (${(error as Error).message})`,
      'give a folder of PNG or JPEG photos',
      { cause: error },
    );
  }
  if (names.length === 0)
    throw new Fault(
      'unreadable',
      `--photos ${folder}: no PNG or JPEG photo is in it`,
      'give a folder with at least one',
    );
  return names.map(name => {
    const { widthPx, heightPx, data } = decodePhoto(readFileSync(join(folder, name)), join(folder, name));
    return { name, widthPx, heightPx, luma: data };
  });
};

const summary = ({ log, lifeS, lives, paper }: Rehearsal): string => {
  const count = (event: string) => log.filter(line => line.event === event).length;
  const waits = new Set(log.filter(line => line.event === 'waiting').flatMap(line => String(line.why).split(' ')));
  const metres = (paper.length / paper.dotsPerMm / 1000).toFixed(2);
  const minutes = Math.floor(lifeS / 60);
  const lines = [
    [
      'party',
      `${minutes} min ${Math.round(lifeS - minutes * 60)} s of it${lives > 1 ? `, ${counted(lives - 1, 'power cut')}` : ''}`,
    ],
    [
      'pictures',
      `${count('press')} taken, ${count('kept')} kept, ${count('printed')} printed, ${count('refused')} presses refused`,
    ],
    ['waits', [...waits].map(waitInWords).join(', ') || 'none'],
    ['paper', `${metres} m moved`],
  ];
  return lines.map(([what, words]) => hanging(`${what.padEnd(9)} `, words)).join('');
};

const run = async (given: Given, io: Io): Promise<number> => {
  if (given.values.live) {
    const { runLive } = await import('./live.ts');
    return runLive(given, io);
  }
  const { script, name } = await scriptOf(given);
  const configFile = textOption(given, 'config');
  const config = configFile ? loadConfig(configFile).config : (script.config ?? defaultConfig());
  const profile =
    script.profile && !configFile ? script.profile : loadProfile(config.printer.profile, configFile ?? null);
  const photos = await loadPhotos(textOption(given, 'photos'));
  const out = openOutFolder(textOption(given, 'out') ?? 'out');
  try {
    const [
      { rehearse },
      { createImprint },
      { encodeCode128 },
      { drawStrip },
      { reportStrip },
      { timingSvg },
      { reportPage },
    ] = await Promise.all([
      import('../../sim/rehearse.ts'),
      import('../print/imprint.ts'),
      import('../print/code128.ts'),
      import('../../sim/paper/draw.ts'),
      import('../../sim/report/strip.ts'),
      import('../../sim/report/timing.ts'),
      import('../../sim/report/page.ts'),
    ]);
    const imprint = config.printer.imprint
      ? createImprint({ widthDots: profile.widthDots, mark: config.camera.mark, encode: encodeCode128 })
      : null;
    const startedMs = Date.now();
    const progress = createProgress(io, Math.round(script.endS), 'seconds');
    const result = rehearse({
      script,
      config,
      profile,
      photos,
      imprint,
      sparse: script.endS > 3600,
      onProgress(atS) {
        progress.at(Math.round(atS));
        return !io.signal.aborted;
      },
    });
    progress.end();
    if (io.signal.aborted) throw new Fault('usage', 'interrupted: nothing was written', 'run it again');
    const tookS = (Date.now() - startedMs) / 1000;
    const drawn = drawStrip(result.paper, script.seed);
    out.write('strip.png', drawn.png());
    out.write('timing.svg', timingSvg(result.traces, { title: script.title }));
    out.write('log.ndjson', result.logText);
    // One life of the program after another, as the board writes them too.
    out.write('recording.ndjson', result.recordings.join(''));
    out.write('printer.bin', result.printerBytes);
    out.write(
      'index.html',
      reportPage({
        title: script.title,
        facts: { seed: String(script.seed), look: config.picture.look, printer: profile.title },
        traces: result.traces,
        log: result.log,
        strip: reportStrip(result.paper, drawn, result.log, 'strip.png'),
        recordingName: 'recording.ndjson',
      }),
    );
    out.finish();
    const at = (file: string) => relative('.', join(out.path, file)) || file;
    io.out(
      `${script.title} (${relative('.', name) || name})\n\n${summary(result)}${'speed'.padEnd(9)} ${Math.round(result.lifeS / tookS)} × life\n\n`,
    );
    io.out(`the strip:      ${at('strip.png')}\nall of it:      ${at('index.html')} (open it in a browser)\n`);
    if (!result.closed) io.err('the camera did not close by itself: something is still pending, see the log\n');
    return 0;
  } finally {
    out.abandon();
  }
};

const command: Command = {
  name: 'rehearse',
  summary: 'the whole camera on virtual parts and a virtual clock',
  usage: '[SCRIPT] [--photos DIR] [--seed N] [--out DIR] [--live]',
  detail: `Plays a party script (JSON with comments) through the real machine, picture pipeline and print stream, and leaves
strip.png, timing.svg, log.ndjson, recording.ndjson, printer.bin and index.html in the out folder.
Without a script: the demo party. The same seed gives the same bytes.

  slipshutter rehearse --photos ~/holidays --out strip
`,
  options: {
    photos: { type: 'string', value: 'DIR', help: 'show the lens these photos (PNG, JPEG), one a press' },
    seed: { type: 'string', value: 'N', help: 'seed of everything left to chance' },
    out: { type: 'string', value: 'DIR', help: 'where the results go (default: out)' },
    config: { type: 'string', value: 'FILE', help: 'configuration of the camera' },
    party: { type: 'string', value: 'random', help: 'draw a party of faults from the seed' },
    presses: {
      type: 'string',
      value: 'N',
      help: 'so many calm presses instead of a script; plain look and a small frame unless --config says otherwise',
    },
    live: { type: 'boolean', help: 'a camera to play with, in the terminal and in the browser of this machine' },
    port: { type: 'string', value: 'N', help: 'with --live: port of the page on 127.0.0.1, 0 for any that is free' },
  },
  run,
};
export default command;
