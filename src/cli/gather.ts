import { existsSync, readFileSync } from 'node:fs';
import { basename, join, relative } from 'node:path';
import { picturePath } from '../album/layout.ts';
import { loadConfig } from '../config/load.ts';
import { loadProfile } from '../config/load-profile.ts';
import { defaultConfig } from '../config/schema.ts';
import { type Collected, collect } from '../gather/collect.ts';
import type { Gathered } from '../gather/develop.ts';
import { gatherAll } from '../gather/pool.ts';
import { contactSheet, type SheetEntry, sheetPage } from '../gather/sheet.ts';
import { Fault } from '../parts/fault.ts';
import { writePng } from '../picture/png.ts';
import type { Command, Given, Io } from './command.ts';
import { counted } from './counted.ts';
import { textOption } from './given.ts';
import { type OutFolder, openOutFolder } from './out-folder.ts';
import { readPhotoFile } from './photo-file.ts';
import { createProgress } from './progress.ts';

/** The album's own frame of a picture, if it is there. */
const originalOf = (
  album: string | undefined,
  mark: string,
  { gathered }: Collected,
): { bytes: Uint8Array; ending: string } | null => {
  if (!album || gathered.name?.mark !== mark) return null;
  for (const ending of ['png', 'jpg']) {
    const path = join(album, picturePath(gathered.name.shot), `frame.${ending}`);
    if (existsSync(path)) {
      const bytes = readFileSync(path);
      if (bytes.length > 0) return { bytes, ending };
    }
  }
  return null;
};

const howFound = ({ scan, alsoOn, gathered }: Collected, original: boolean): string => {
  const { dots, pxPerDot, name } = gathered;
  const how = dots
    ? 'restored from its dots'
    : pxPerDot > 0
      ? `restored from the scan, ${pxPerDot.toFixed(1)} pixels a dot`
      : 'cut out and straightened';
  const twins = alsoOn.length > 0 ? `, best of ${alsoOn.length + 1}` : '';
  return `${original ? 'from the album; on paper ' : ''}${how}${name ? '' : ', unnamed'} (${basename(scan)}${twins})`;
};

const writeAll = (
  out: OutFolder,
  pictures: readonly Collected[],
  notes: readonly string[],
  album: string | undefined,
  mark: string,
): SheetEntry[] => {
  const entries = pictures.map((collected): SheetEntry => {
    const { title, gathered } = collected;
    const original = originalOf(album, mark, collected);
    const { picture, dots } = gathered;
    const restoredFile = original ? `${title}-restored.png` : `${title}.png`;
    const about = { Title: title, Source: basename(collected.scan), Software: 'slipshutter gather' };
    out.write(
      restoredFile,
      writePng({
        widthPx: picture.widthPx,
        heightPx: picture.heightPx,
        bits: 8,
        data: picture.data,
        dpi: 203,
        text: about,
      }),
    );
    if (original) out.write(`${title}.${original.ending}`, original.bytes);
    if (dots)
      out.write(
        `${title}-dots.png`,
        writePng({
          widthPx: dots.widthDots,
          heightPx: dots.heightDots,
          bits: 1,
          strideBytes: dots.strideBytes,
          data: dots.data,
          dpi: 203,
          text: about,
        }),
      );
    return {
      title,
      file: original ? `${title}.${original.ending}` : restoredFile,
      restored: original ? restoredFile : null,
      dots: dots ? `${title}-dots.png` : null,
      words: howFound(collected, original !== null),
    };
  });
  const sheet = contactSheet(pictures.map(({ title, gathered }) => ({ title, picture: gathered.picture })));
  out.write(
    'contact-sheet.png',
    writePng({ widthPx: sheet.widthPx, heightPx: sheet.heightPx, bits: 8, data: sheet.data }),
  );
  out.write('index.html', sheetPage(entries, notes));
  return entries;
};

const run = async (given: Given, io: Io): Promise<number> => {
  const scans = given.positionals;
  if (scans.length === 0) throw new Fault('usage', 'no scan was named', 'give one or more PNG or JPEG files');
  const outPath = textOption(given, 'out');
  if (!outPath) throw new Fault('usage', '--out is missing', 'say where the pictures should go: --out DIR');
  const configFile = textOption(given, 'config');
  const config = configFile ? loadConfig(configFile).config : defaultConfig();
  const { dotRadius } = loadProfile(config.printer.profile, configFile ?? null);
  const album = textOption(given, 'album');
  if (album && !existsSync(album))
    throw new Fault('unreadable', `--album ${album}: there is no such folder`, 'leave it out where the album is lost');
  const out = openOutFolder(outPath);
  try {
    const found: { scan: string; pictures: readonly Gathered[] }[] = [];
    const notes: string[] = [];
    let fruitless = 0;
    let ready = 0;
    const progress = createProgress(io, scans.length, 'scans');
    await gatherAll(
      scans,
      readPhotoFile,
      dotRadius,
      (scan, done) => {
        progress.at(++ready);
        if (done.ok) {
          found.push({ scan, pictures: done.result.pictures });
          if (done.result.pictures.length === 0) fruitless++;
          notes.push(...done.result.notes.map(note => `${scan}: ${note}`));
        } else {
          fruitless++;
          notes.push(`${done.why}${done.mend ? `: ${done.mend}` : ''}`);
        }
      },
      io.signal,
    );
    progress.end();
    if (io.signal.aborted) throw new Fault('usage', 'interrupted: nothing was written', 'run it again');
    // Workers are ready in any order; the person's order counts.
    found.sort((a, b) => scans.indexOf(a.scan) - scans.indexOf(b.scan));
    const pictures = collect(found);
    const entries = writeAll(out, pictures, notes, album, config.camera.mark);
    out.finish();
    if (given.values.json) io.out(`${JSON.stringify({ pictures: entries, notes }, null, 2)}\n`);
    else {
      for (const { title, words } of entries) io.out(`${title}  ${words}\n`);
      io.out(
        `${entries.length > 0 ? '\n' : ''}${counted(entries.length, 'picture')} in ${relative('.', out.path) || '.'}; all at a glance: ${relative('.', join(out.path, 'index.html'))}\n`,
      );
      for (const note of notes) io.err(`${note}\n`);
    }
    return fruitless > 0 ? 5 : 0;
  } finally {
    out.abandon();
  }
};

const command: Command = {
  name: 'gather',
  summary: 'strips from a scanner or a phone back to pictures',
  usage: 'SCAN... --out DIR',
  detail: `Finds the pictures on scans (PNG, JPEG) by the marks in their margins, reads their numbers, straightens them, reads the
printed dots where the scan is fine enough (600 dpi is), and restores continuous tone. Prints without marks are cut out,
unnamed. A scan that can't be read or bears no picture doesn't stop the others; the exit code then is 5.

  slipshutter gather scans/*.png --out evening --album album
`,
  options: {
    out: { type: 'string', value: 'DIR', help: 'where pictures, contact sheet and page go' },
    album: { type: 'string', value: 'DIR', help: 'album of the camera: its originals are taken where they are there' },
    config: { type: 'string', value: 'FILE', help: 'configuration of the camera, for its mark and its printer' },
    json: { type: 'boolean', help: 'the list as JSON' },
  },
  run,
};
export default command;
