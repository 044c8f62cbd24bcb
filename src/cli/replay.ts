import { statSync } from 'node:fs';
import { basename, join, relative } from 'node:path';
import type { LogRecord } from '../console/read/own.ts';
import { Fault } from '../parts/fault.ts';
import { encodeCode128 } from '../print/code128.ts';
import { createImprint } from '../print/imprint.ts';
import { entryInWords } from '../record/ports.ts';
import { type ReplayResult, runReplay } from '../record/run-replay.ts';
import type { Command, Given, Io } from './command.ts';
import { counted } from './counted.ts';
import { textOption } from './given.ts';
import { openOutFolder } from './out-folder.ts';
import { createProgress } from './progress.ts';

const seconds = (us: number): string => `${(us / 1e6).toFixed(6)} s`;
const recordLine = ({ level: _, time: __, mono, event, ...fields }: LogRecord): string =>
  `${seconds(mono)}  ${event}  ${Object.entries(fields)
    .map(([name, value]) => `${name} ${typeof value === 'string' ? value : JSON.stringify(value)}`)
    .join(', ')}`.trimEnd();

/** Where it went another way, with what was just before. */
const divergenceText = (result: ReplayResult, logName: string | null): string => {
  const { divergence, logDivergence, lastInputs, lastLines } = result;
  const out: string[] = [];
  if (divergence) {
    const { line, atUs, expected, came } = divergence;
    out.push(
      `another way from ${seconds(atUs)} on${line === null ? '' : `, line ${line} of the recording`}`,
      `  expected  ${expected}`,
      `  came      ${came}`,
    );
  } else if (logDivergence) {
    const { line, expected, came } = logDivergence;
    if (!expected && came)
      out.push(
        `nothing in ${logName} fits what comes first`,
        `  came      ${recordLine(came)}`,
        '  Is it the log of this recording, and from its beginning on?',
      );
    else
      out.push(
        `another way than the log${line === null ? '' : `, line ${line} of ${logName}`}`,
        `  expected  ${expected ? recordLine(expected) : 'nothing more'}`,
        `  came      ${came ? recordLine(came) : 'nothing more'}`,
      );
  }
  const before = logDivergence && !divergence ? logDivergence.before : lastLines;
  if (before.length > 0) out.push('', '  said before that', ...before.map(record => `    ${recordLine(record)}`));
  if (lastInputs.length > 0)
    out.push('', '  heard before that', ...lastInputs.map(entry => `    ${seconds(entry.t)}  ${entryInWords(entry)}`));
  return `${out.join('\n')}\n`;
};

const sizeOf = (path: string): number => {
  try {
    return statSync(path).size;
  } catch {
    return 0;
  }
};

const run = async (given: Given, io: Io): Promise<number> => {
  const [recording, ...more] = given.positionals;
  if (recording === undefined || more.length > 0)
    throw new Fault('usage', 'one recording is replayed', 'for instance slipshutter replay out/recording.ndjson');
  const against = textOption(given, 'against') ?? null;
  const album = textOption(given, 'album') ?? null;
  const html = given.values.html === true;
  const outName = textOption(given, 'out') ?? (html ? 'replayed' : null);
  const [{ createVirtualClock }, { createDevelopAgain }, { createReplayed }] = await Promise.all([
    import('../../sim/clock.ts'),
    import('../record/develop-again.ts'),
    import('../../sim/replayed.ts'),
  ]);
  const out = outName === null ? null : openOutFolder(outName);
  const logLines: string[] = [];
  const sent: Uint8Array[] = [];
  const stage = html ? createReplayed() : null;
  let developed = 0;
  let pictures = 0;
  const startedMs = performance.now();
  const progress = createProgress(io, Math.round(sizeOf(recording) / 1000), 'kB');
  try {
    const result = await runReplay({
      recording,
      against,
      createClock: createVirtualClock,
      createImprint: ({ config, profile }) =>
        config.printer.imprint
          ? createImprint({ widthDots: profile.widthDots, mark: config.camera.mark, encode: encodeCode128 })
          : null,
      developAgain(header) {
        if (album === null) return undefined;
        const develop = createDevelopAgain(album, header);
        return caption => {
          const dots = develop(caption);
          if (dots) developed++;
          return dots;
        };
      },
      onLife(clock, header) {
        const heard = stage?.begin(clock, header) ?? {};
        if (!out) return heard;
        const printer = (bytes: Uint8Array) => {
          sent.push(bytes.slice());
          heard.deeds?.printer?.(bytes);
        };
        return { ...heard, deeds: { ...heard.deeds, printer } };
      },
      onLog(line, record) {
        if (record.event === 'printed') pictures++;
        if (out) logLines.push(line);
        stage?.said(record);
      },
      onBytes: bytes => progress.at(Math.round(bytes / 1000)),
      onMended: what => io.err(`${recording}: ${what}\n`),
      stopped: () => io.signal.aborted,
    });
    progress.end();
    if (io.signal.aborted) throw new Fault('usage', 'interrupted', 'run it again');
    const tookMs = performance.now() - startedMs;
    if (out) {
      out.write('log.ndjson', logLines.join(''));
      out.write('printer.bin', Buffer.concat(sent));
      for (const [name, content] of stage?.report(basename(recording)) ?? []) out.write(name, content);
      out.finish();
    }
    const same = !result.divergence && !result.logDivergence;
    if (given.values.json) {
      const { lives, lifeUs, inputs, sentBytes, compared, missing, divergence, logDivergence } = result;
      io.out(
        `${JSON.stringify({ same, lives, lifeUs, inputs, pictures, developed, sentBytes, compared, missing, divergence, logDivergence, speed: Math.round(lifeUs / 1000 / tookMs) })}\n`,
      );
      return same ? 0 : 3;
    }
    io.out(summary(result, { pictures, developed, against, album, tookMs }));
    if (!same) io.out(`\n${divergenceText(result, against)}`);
    if (out) {
      const at = (name: string) => relative('.', join(out.path, name)) || name;
      io.out(
        `\n${html ? `the report:  ${at('index.html')} (open it in a browser)` : `the log:  ${at('log.ndjson')}`}\n`,
      );
    }
    return same ? 0 : 3;
  } finally {
    progress.end();
    out?.abandon();
  }
};

interface Told {
  pictures: number;
  developed: number;
  against: string | null;
  album: string | null;
  tookMs: number;
}

const summary = (result: ReplayResult, { pictures, developed, against, album, tookMs }: Told): string => {
  const { lives, lifeUs, inputs, sentBytes, compared, missing } = result;
  const rows = [
    [
      'replayed',
      `${counted(inputs, 'input')} of ${counted(lives, 'life', 'lives')}, ${(lifeUs / 1e6).toFixed(1)} s of it at ${Math.round(lifeUs / 1000 / tookMs).toLocaleString('en')} × life`,
    ],
    ['printer', `${counted(pictures, 'picture')}, ${counted(sentBytes, 'byte')}`],
  ];
  if (album !== null) rows.push(['frames', `${counted(developed, 'picture')} developed again`]);
  if (compared !== null)
    rows.push([
      'log',
      `${counted(compared, 'line')} compared with ${against}${missing > 0 ? `, ${counted(missing, 'line')} of it dropped by a slow console` : ''}`,
    ]);
  if (!result.divergence && !result.logDivergence) rows.push(['result', 'the same, from the first input to the last']);
  return rows.map(([name, words]) => `${name.padEnd(9)} ${words}\n`).join('');
};

const command: Command = {
  name: 'replay',
  summary: 'recorded inputs through the same machine again',
  usage: 'RECORDING [--against LOG] [--album DIR] [--out DIR] [--html]',
  detail: `Every input comes at its recorded microsecond, on virtual parts; what the camera then does is compared with what it did:
the bytes that had been sent to the printer, answers that nobody asks for, and with --against the log, line by line.
Ends with 3 where it goes another way.

  slipshutter replay out/recording.ndjson --against out/log.ndjson
`,
  options: {
    against: { type: 'string', value: 'LOG', help: 'compare with this log, or a console that has it' },
    album: { type: 'string', value: 'DIR', help: 'develop the frames of this album again and compare the dots' },
    out: { type: 'string', value: 'DIR', help: 'leave log.ndjson and printer.bin there' },
    html: { type: 'boolean', help: 'leave strip, traces and log as a page, too (in --out, or replayed)' },
    json: { type: 'boolean', help: 'the result as JSON' },
  },
  run,
};
export default command;
