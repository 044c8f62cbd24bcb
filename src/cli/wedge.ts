import { readFileSync, renameSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { relative } from 'node:path';
import { applyEdits, modify } from 'jsonc-parser';
import { findConfigPath, loadConfig } from '../config/load.ts';
import { loadProfile } from '../config/load-profile.ts';
import { Fault } from '../parts/fault.ts';
import { writePng } from '../picture/png.ts';
import { builtInProfiles } from '../print/profiles.ts';
import { drawWedge } from '../workshop/wedge/draw.ts';
import { type Fit, fitWedge } from '../workshop/wedge/fit.ts';
import { plotCurve } from '../workshop/wedge/plot.ts';
import { readWedge } from '../workshop/wedge/read.ts';
import type { Command, Given, Io } from './command.ts';
import { textOption } from './given.ts';
import { readPhoto } from './photo-file.ts';

const writeFile = (path: string, content: string | Uint8Array) => {
  const making = `${path}.making-${process.pid}`;
  try {
    writeFileSync(making, content);
    renameSync(making, path);
  } catch (error) {
    rmSync(making, { force: true });
    throw new Fault(
      'unwritable',
      `${path}: can’t be written (${(error as Error).message})`,
      'choose another file with --out',
      {
        cause: error,
      },
    );
  }
};

const setup = (given: Given) => {
  const named = textOption(given, 'config');
  const path = findConfigPath(named);
  const { config } = loadConfig(path);
  const name = textOption(given, 'profile') ?? config.printer.profile;
  // A profile that is named here counts from the current folder, one in the configuration from there.
  return { config, profileName: name, profile: loadProfile(name, textOption(given, 'profile') ? null : path) };
};

const print = async (given: Given, io: Io): Promise<number> => {
  const { config, profile } = setup(given);
  const dots = drawWedge(profile.widthDots);
  if (given.values.print) {
    const { printDots } = await import('./print-dots.ts');
    await printDots([dots], config, profile, io);
    io.out('Printed. Let it cool for a minute, then scan it at 300 dpi or more, without automatic brightening.\n');
    return 0;
  }
  const out = textOption(given, 'out') ?? 'wedge.png';
  writeFile(
    out,
    writePng({
      widthPx: dots.widthDots,
      heightPx: dots.heightDots,
      bits: 1,
      data: dots.data,
      strideBytes: dots.strideBytes,
      dpi: profile.dotsPerMm * 25.4,
      text: { Software: 'slipshutter wedge print' },
    }),
  );
  io.out(
    `${out}: ${dots.widthDots} × ${dots.heightDots} dots, ${(dots.heightDots / profile.dotsPerMm).toFixed(0)} mm of paper; --print prints it\n`,
  );
  return 0;
};

/** The profile with curve and dot radius in it, its comments and order kept. */
const withCurve = (profileText: string, { curve, dotRadius }: Fit): string => {
  const options = { formattingOptions: { insertSpaces: true, tabSize: 2 } };
  const radius = applyEdits(profileText, modify(profileText, ['dotRadius'], dotRadius, options));
  return applyEdits(radius, modify(radius, ['toneCurve'], curve, options));
};

const read = async (given: Given, io: Io): Promise<number> => {
  const [, scan, ...more] = given.positionals;
  if (!scan || more.length > 0)
    throw new Fault('usage', 'one scan of a wedge is read at a time', 'slipshutter wedge read SCAN');
  const { profile, profileName } = setup(given);
  const reading = readWedge(await readPhoto(scan), profile.widthDots, scan);
  const fit = fitWedge(reading);
  const builtIn = Object.hasOwn(builtInProfiles, profileName);
  const out = textOption(given, 'out') ?? (builtIn ? `${profileName}.json` : profileName);
  const before = builtIn
    ? `${JSON.stringify(builtInProfiles[profileName], null, 2)}\n`
    : readFileSync(profileName, 'utf8');
  // A class that comes along is copied before it is changed; never over a file that may be somebody's own.
  if (builtIn && !textOption(given, 'out') && statSync(out, { throwIfNoEntry: false }))
    throw new Fault('unwritable', `${out} is there already`, 'say where the profile should go: --out FILE');
  writeFile(out, withCurve(before, fit));
  if (given.values.json) {
    io.out(`${JSON.stringify({ profile: out, ...fit, steps: reading.steps }, null, 2)}\n`);
    return 0;
  }
  const { optical, rms, solid } = fit;
  io.out(`${plotCurve(fit.curve)}
Solid black reflects ${(solid * 100).toFixed(1)} % of what paper does (${reading.pxPerDot.toFixed(1)} pixels of the scan to a dot).
Round dots of radius ${fit.dotRadius} explain the curve to ${(rms.round * 100).toFixed(1)} % ink;
with light that wanders in the paper (Yule–Nielsen), radius ${optical.dotRadius} and n = ${optical.n}, to ${(rms.optical * 100).toFixed(1)} %.
Written to ${relative('.', out) || out}: toneCurve and dotRadius.${builtIn ? ` Name it in the configuration: printer.profile` : ''}
`);
  return 0;
};

const run = (given: Given, io: Io): Promise<number> | number => {
  const [deed] = given.positionals;
  if (deed === 'print' && given.positionals.length === 1) return print(given, io);
  if (deed === 'read') return read(given, io);
  throw new Fault(
    'usage',
    deed ? `wedge can’t ${given.positionals.join(' ')}` : 'print or read?',
    'slipshutter wedge print, or slipshutter wedge read SCAN',
  );
};

const command: Command = {
  name: 'wedge',
  summary: 'a step wedge, and the tone curve from it',
  usage: 'print | read SCAN',
  detail: `Every printer, paper and heating time darkens in its own way. 'wedge print' makes a strip of patches with a known share of
dots; 'wedge read' finds it on a scan or photo (however it lies), measures the ink, and writes the tone curve and the dots'
radius into the printer's profile. Scan at 300 dpi or more, without automatic brightening or sharpening.

  slipshutter wedge print --print
  slipshutter wedge read scan.png --profile my-printer.json
`,
  words: ['print', 'read'],
  options: {
    out: {
      type: 'string',
      value: 'FILE',
      help: 'print: where the picture goes (wedge.png); read: where the profile goes',
    },
    print: { type: 'boolean', help: 'print the wedge on the printer of the configuration' },
    profile: {
      type: 'string',
      value: 'NAME',
      help: 'printer profile: a class or a file; left out: the configuration’s',
    },
    config: { type: 'string', value: 'FILE', help: 'configuration' },
    json: { type: 'boolean', help: 'read: the figures as JSON' },
  },
  run,
};
export default command;
