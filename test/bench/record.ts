import { appendFileSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createVirtualClock } from '../../sim/clock.ts';
import { scriptSchema } from '../../sim/script.ts';
import { readSettingsFile } from '../../src/config/load.ts';
import { defaultProfile, type Profile } from '../../src/config/profile.ts';
import type { Config } from '../../src/config/schema.ts';
import { parseSettings } from '../../src/config/settings.ts';
import type { PartName } from '../../src/parts/clock.ts';
import { encodeCode128 } from '../../src/print/code128.ts';
import { createImprint } from '../../src/print/imprint.ts';
import type { Entry } from '../../src/record/entry.ts';
import type { Said } from '../../src/record/inlet.ts';
import type { Item } from '../../src/record/read.ts';
import { createRecordingParser } from '../../src/record/read.ts';
import { createRecorder, headerOf } from '../../src/record/recorder.ts';
import { createReplay, type Replay } from '../../src/record/replay.ts';
import { createRing } from '../../src/record/ring.ts';
import { runReplay } from '../../src/record/run-replay.ts';
import { recordScript, scriptOf, smallConfig, smallProfile, wholeDots } from '../record/desk.ts';

const demoFile = 'config/parties/demo.json';

const cpuMs = (): number => {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1000;
};
const mb = (bytes: number) => Math.round(bytes / 1e6);

const itemsOf = (text: string): Item[] => {
  const parser = createRecordingParser('bench');
  return [...parser.push(Buffer.from(text)), ...parser.end()];
};
const replayItems = (items: readonly Item[]): { replay: Replay; log: string } => {
  let replay: Replay | null = null;
  let log = '';
  for (const item of items) {
    if (item.kind === 'input') replay?.take(item.line, item.entry);
    else
      replay = createReplay({
        header: item.header,
        clock: createVirtualClock(Date.parse(item.header.startedAt)),
        imprint: null,
        onLog(line) {
          log += line;
        },
      });
  }
  if (!replay) throw new Error('no header');
  replay.end();
  return { replay, log };
};

/** What a part said, out of the line of it: bytes, dots and frames whole again. */
const saidOf = ({ t: _, part, ...rest }: Entry): Said => {
  if (part === 'printer' && 'hex' in rest) return { kind: 'bytes', bytes: Buffer.from(rest.hex, 'hex') };
  if (part === 'darkroom' && 'dots' in rest) {
    const { widthDots, heightDots, strideBytes, dots, ...more } = rest;
    return { ...more, dots: { widthDots, heightDots, strideBytes, data: Buffer.from(dots, 'base64') } };
  }
  if (part === 'webcam' && 'sequence' in rest) return { kind: 'frame', frame: { ...rest, data: new Uint8Array(0) } };
  return rest;
};

const imprintOf = ({ config, profile }: { config: Config; profile: Profile }) =>
  config.printer.imprint
    ? createImprint({ widthDots: profile.widthDots, mark: config.camera.mark, encode: encodeCode128 })
    : null;

/** A recording on disk, one life after another, replayed as the command does it: speed and memory from end to end. */
const benchFile = async (say: (line: string) => void, what: string, life: string, least: number) => {
  const folder = mkdtempSync(join(tmpdir(), 'bench-record-'));
  const recording = join(folder, 'recording.ndjson');
  const copies = Math.ceil(least / (life.split('\n').length - 1));
  try {
    for (let copy = 0; copy < copies; copy++) appendFileSync(recording, life);
    let early = 0;
    let most = 0;
    let told = 0;
    const from = cpuMs();
    const fromMs = performance.now();
    const { inputs, lives, lifeUs, sentBytes, divergence } = await runReplay({
      recording,
      against: null,
      createClock: createVirtualClock,
      createImprint: imprintOf,
      onBytes(bytes) {
        told++;
        const rss = process.memoryUsage.rss();
        if (early === 0 && bytes >= (copies * life.length) / 10) early = rss;
        most = Math.max(most, rss);
      },
    });
    const lifeMs = lifeUs / 1000;
    say(
      `replay: ${what}: a file of ${inputs} inputs in ${lives} lives, ${Math.round(lifeMs / 1000)} s, ${sentBytes} bytes to the printer, read and checked too, at ${Math.round(lifeMs / (cpuMs() - from))} × life by CPU, ${Math.round(lifeMs / (performance.now() - fromMs))} × by the clock${divergence ? ', BUT IT DIVERGED' : ''}; ${told} reports of progress; memory after a tenth ${mb(early)} MB, at most ${mb(most)} MB: ratio ${(most / early).toFixed(2)}`,
    );
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
};

/** Whole pictures with marks and code: the demo party, and an evening with a press every 30 s. */
const benchWhole = async (say: (line: string) => void, pictures: number, inputs: number) => {
  const everyS = 30;
  const config = smallConfig({ printer: { imprint: true } });
  const profile = defaultProfile();
  const evening = scriptOf(
    Array.from({ length: pictures }, (_, i) => ({ do: 'press', atS: 3 + i * everyS, bounce: true })),
    10 + pictures * everyS,
  );
  const demo = parseSettings(readSettingsFile(demoFile), scriptSchema, demoFile, 'script');
  for (const [what, script] of [
    ['whole pictures, one every 30 s (wanted: at least 1000)', evening],
    ['whole pictures, the demo party (wanted: at least 1000)', demo],
  ] as const) {
    const [life] = recordScript(script, config, profile, undefined, {
      dotsOf: wholeDots,
      imprint: imprintOf({ config, profile }),
    }).lives;
    await benchFile(say, what, life.text, inputs);
  }
};

/** What recording costs a party, how fast recordings replay, and what memory a long one takes. */
export const benchRecord = async (
  say: (line: string) => void,
  { pictures = 200, million = 1_000_000 } = {},
): Promise<void> => {
  const everyS = 20;
  const script = scriptOf(
    Array.from({ length: pictures }, (_, i) => ({ do: 'press', atS: 3 + i * everyS })),
    10 + pictures * everyS,
  );
  const profile = { ...smallProfile(), widthDots: 384 };
  const [life] = recordScript(script, smallConfig(), profile).lives;
  const items = itemsOf(life.text);
  const inputs = items.flatMap(item => (item.kind === 'input' ? [item.entry] : []));
  const said = inputs.map((entry): [number, PartName, Said] => [entry.t, entry.part, saidOf(entry)]);

  const ring = createRing();
  const recorder = createRecorder({
    header: headerOf({ config: smallConfig(), profile, startedAtMs: 0, shutterSays: true }),
    write: ring.write,
  });
  const from = cpuMs();
  for (const [atUs, part, one] of said) recorder.sink(atUs, part, one);
  const recordMs = cpuMs() - from;
  const lifeMs = life.endUs / 1000;
  say(
    `record: ${inputs.length} inputs of ${Math.round(lifeMs / 1000)} s with ${pictures} pictures cost ${recordMs.toFixed(1)} ms: ${((100 * recordMs) / lifeMs).toFixed(4)} % of one core here, ${((1000 * recordMs) / inputs.length).toFixed(1)} µs an input (wanted: less than 1 %)`,
  );

  replayItems(items.slice(0, 400));
  const begun = cpuMs();
  const { replay, log } = replayItems(items);
  const replayMs = cpuMs() - begun;
  say(
    `replay: ${Math.round(lifeMs / replayMs)} × life with dots of 64 × 40, one picture every ${everyS} s${replay.divergence ? ', and it diverged' : ''}${log === life.log ? ', the log is the same byte for byte' : ', BUT THE LOG DIFFERS'} (wanted: at least 1000)`,
  );

  const lines = life.text.trimEnd().split('\n');
  const parser = createRecordingParser('bench');
  const short = `${lines
    .slice(1, 400)
    .filter(line => line.length < 400)
    .map(line => line.replace(/"t":\d+/, '"t":5'))
    .join('\n')}\n`;
  const perTurn = short.split('\n').length - 1;
  const chunk = Buffer.from(short);
  let count = parser.push(Buffer.from(`${lines[0]}\n`)).length;
  let early = 0;
  let most = 0;
  const readFrom = cpuMs();
  while (count < million) {
    count += parser.push(chunk).length;
    const rss = process.memoryUsage.rss();
    if (early === 0 && count >= million / 10) early = rss;
    most = Math.max(most, rss);
  }
  const readS = (cpuMs() - readFrom) / 1000;
  say(
    `record: reading and checking ${(count / 1e6).toFixed(1)} million lines took ${readS.toFixed(1)} s of CPU (${perTurn} lines over and over); memory after a tenth ${mb(early)} MB, at most ${mb(most)} MB: ratio ${(most / early).toFixed(2)}`,
  );
  await benchFile(say, 'dots of 64 × 40', life.text, million);
  await benchWhole(say, Math.min(60, pictures), million / 10);
};
