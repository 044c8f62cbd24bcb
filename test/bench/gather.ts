import { spawn } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { availableParallelism, tmpdir } from 'node:os';
import { join } from 'node:path';
import { chance } from '../../sim/random.ts';
import { cleanWear, takeScan } from '../../sim/scanner/scanner.ts';
import type { Io } from '../../src/cli/command.ts';
import gather from '../../src/cli/gather.ts';
import { defaultProfile } from '../../src/config/profile.ts';
import { defaultConfig, lookSchema } from '../../src/config/schema.ts';
import type { Grey } from '../../src/gather/grey.ts';
import { bareShare, descreen, restoreTone } from '../../src/gather/restore.ts';
import { createDeveloper } from '../../src/picture/develop.ts';
import { writePng } from '../../src/picture/png.ts';
import { diffuse, stripOf, toneImage } from '../gather/fixture.ts';
import { havePhotos, photo, photoNames } from '../picture/photos.ts';
import type { BenchOptions } from './bench.ts';
import { kinds, type Outcome, tryScan } from './gather-scans.ts';

type Say = (line: string) => void;

/** What a process of its own is asked to do: scans `from`, `from + step`, … below `to`, or one page by the command. */
type GatherJob = { scans: { from: number; to: number; step: number } } | { page: string; out: string };

interface PageTold {
  wallS: number;
  cpuS: number;
  mostMemoryMb: number;
  pictures: number;
}

export const runGatherJob = async (given: string): Promise<void> => {
  const job = JSON.parse(given) as GatherJob;
  if ('scans' in job) {
    const { from, to, step } = job.scans;
    for (let index = from; index < to; index += step) process.stdout.write(`${JSON.stringify(tryScan(index))}\n`);
    return;
  }
  const from = performance.now();
  let said = '';
  const io = {
    out(text: string) {
      said += text;
    },
    err() {},
    outIsTerminal: false,
    errIsTerminal: false,
    signal: new AbortController().signal,
  } as unknown as Io;
  await gather.run({ positionals: [job.page], values: { out: job.out, json: true } }, io);
  const { user, system } = process.cpuUsage();
  const told: PageTold = {
    wallS: (performance.now() - from) / 1000,
    cpuS: (user + system) / 1e6,
    mostMemoryMb: process.resourceUsage().maxRSS / 1024,
    pictures: JSON.parse(said).pictures.filter(({ dots }: { dots: string | null }) => dots).length,
  };
  process.stdout.write(`${JSON.stringify(told)}\n`);
};

/** Each line that a job says, in a process of its own, so that memory and time are the job's alone. */
const inOwnProcess = (job: GatherJob): Promise<string[]> =>
  new Promise((resolve, reject) => {
    const child = spawn(process.execPath, [process.argv[1], '--gather-job', JSON.stringify(job)], {
      stdio: ['ignore', 'pipe', 'inherit'],
    });
    let said = '';
    child.stdout.setEncoding('utf8').on('data', text => {
      said += text;
    });
    child.on('error', reject);
    child.on('close', code =>
      code === 0 ? resolve(said.trim().split('\n')) : reject(new Error(`a gather job failed: ${JSON.stringify(job)}`)),
    );
  });

const mean = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / Math.max(1, values.length);
const most = (values: readonly number[]) => values.reduce((high, value) => Math.max(high, value), 0);
const percent = (share: number) => `${(100 * share).toFixed(share < 0.001 && share > 0 ? 4 : 2)} %`;
const goal = (met: boolean) => (met ? 'met' : 'NOT met');

const benchScans = async (say: Say, count: number): Promise<void> => {
  const step = availableParallelism();
  const told = await Promise.all(
    Array.from({ length: step }, (_, from) => inOwnProcess({ scans: { from, to: count, step } })),
  );
  const outcomes = told.flat().map(line => JSON.parse(line) as Outcome);
  const by = new Map<string, Outcome[]>();
  for (const outcome of outcomes) by.set(outcome.kind, [...(by.get(outcome.kind) ?? []), outcome]);
  say(`gather: ${outcomes.length} scans of ${by.size} kinds, each drawn by its number`);
  say(
    'gather: kind                                     pictures read wrong   wrong dots: mean  most   corners, dots: mean  most',
  );
  for (const [kind, of] of by) {
    const sum = (what: (outcome: Outcome) => number) => of.reduce((total, outcome) => total + what(outcome), 0);
    const errors = of.flatMap(({ bitErrors }) => bitErrors);
    const corners = of.flatMap(({ cornersDots }) => cornersDots);
    say(
      [
        `gather: ${kind.padEnd(40)} ${`${sum(({ pictures }) => pictures)}`.padStart(8)}`,
        `${sum(({ read }) => read)}`.padStart(4),
        `${sum(({ wrong }) => wrong)}`.padStart(5),
        (errors.length > 0 ? percent(mean(errors)) : '-').padStart(18),
        (errors.length > 0 ? percent(most(errors)) : '-').padStart(9),
        mean(corners).toFixed(2).padStart(15),
        most(corners).toFixed(2).padStart(5),
      ].join(' '),
    );
  }
  const pictures = outcomes.reduce((sum, outcome) => sum + outcome.pictures, 0);
  const read = outcomes.reduce((sum, outcome) => sum + outcome.read, 0);
  const wrong = outcomes.reduce((sum, outcome) => sum + outcome.wrong, 0);
  say(
    `gather: codes read ${read} of ${pictures}, ${percent(read / pictures)} (wanted 99.5 %): ${goal(read >= 0.995 * pictures)}`,
  );
  say(`gather: wrong names ${wrong} (wanted 0): ${goal(wrong === 0)}`);
  for (const [what, limit] of [
    ['clean', 0.005],
    ['faded', 0.02],
  ] as const) {
    const names = kinds.filter(({ dots }) => dots === what).map(({ name, dpi }) => `${name}, ${dpi} dpi`);
    const errors = outcomes.filter(({ kind }) => names.includes(kind)).flatMap(({ bitErrors }) => bitErrors);
    say(
      `gather: dots at 600 dpi, ${what}: ${percent(mean(errors))} wrong on average, at most ${percent(most(errors))}, ${errors.filter(e => e <= limit).length} of ${errors.length} pictures within ${percent(limit)} (wanted on average): ${goal(mean(errors) <= limit)}`,
    );
  }
  const corners = outcomes.flatMap(({ cornersDots }) => cornersDots);
  const within = corners.filter(off => off <= 0.5).length;
  say(
    `gather: corners ${mean(corners).toFixed(2)} dots off on average, ${percent(within / corners.length)} within half a dot, at most ${most(corners).toFixed(2)} (wanted all within 0.5): ${goal(within === corners.length)}`,
  );
};

const decibels = (a: ArrayLike<number>, b: ArrayLike<number>): number => {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += (a[i] - b[i]) ** 2;
  return 10 * Math.log10(a.length / sum);
};

/** Restored tone against the tone that the camera was given, beside the best plain low-pass of several. */
const benchRestoring = (say: Say, smoke: boolean): void => {
  if (!havePhotos) {
    say('gather: the photographs of python3-skimage are not here: restoring is not measured');
    return;
  }
  const profile = defaultProfile();
  const sigmas = [1.1, 1.2, 1.3, 1.4, 1.6];
  const developer = createDeveloper({
    picture: defaultConfig().picture,
    look: lookSchema.parse({ levels: 0, localContrast: 0, sharpen: 0, halftone: 'search' }),
    profile,
    cameraName: 'bench',
  });
  const low = sigmas.map(() => 0);
  let restored = 0;
  const names = smoke ? photoNames.slice(0, 1) : photoNames;
  for (const name of names) {
    const luma = photo(name);
    const dots = developer.developLuma(luma, { shot: 1, takenAtMs: null });
    const wanted = Float32Array.from(developer.toneOf(luma), value => value / 255);
    const bare = bareShare(dots, profile.dotRadius);
    const own = decibels(restoreTone(bare).data, wanted);
    const plain = sigmas.map(sigma => decibels(descreen(bare, sigma).data, wanted));
    restored += own / names.length;
    plain.forEach((value, k) => {
      low[k] += value / names.length;
    });
    say(
      `gather: restoring ${name.padEnd(10)} ${own.toFixed(2)} dB, by a Gaussian at best ${Math.max(...plain).toFixed(2)} dB`,
    );
  }
  const best = Math.max(...low);
  say(
    `gather: restored ${restored.toFixed(2)} dB on average, the best Gaussian (σ ${sigmas[low.indexOf(best)]} dots) ${best.toFixed(2)} dB (wanted 27, and 2 more than it): ${goal(restored >= 27 && restored >= best + 2)}`,
  );
};

/** An A4 page across, five strips of three pictures side by side. */
const fullPage = (dpi: number): Grey => {
  const draw = chance(3);
  const strips = [0, 1, 2, 3, 4].map(k => {
    const printed = [0, 1, 2].map(() => ({
      shot: draw.whole(1, 999_999),
      body: diffuse(toneImage(384, 432, draw), 384, 432),
    }));
    const turnDegrees = draw.next() - 0.5 + (k % 2) * 180;
    return { dots: stripOf(printed).dots, xMm: 30 + 59 * k, yMm: 105, turnDegrees, marginMm: 3 };
  });
  return takeScan(strips, { widthMm: 297, heightMm: 210, dpi }, { ...cleanWear, noise: 2 }, draw).image;
};

const doubled = ({ widthPx, heightPx, data }: Grey): Grey => {
  const out = new Uint8Array(4 * data.length);
  for (let y = 0; y < 2 * heightPx; y++)
    for (let x = 0; x < 2 * widthPx; x++) out[y * 2 * widthPx + x] = data[(y >> 1) * widthPx + (x >> 1)];
  return { widthPx: 2 * widthPx, heightPx: 2 * heightPx, data: out };
};

/** Time and memory of a full page. */
export const benchPage = async (say: Say, { smoke }: BenchOptions): Promise<void> => {
  const folder = mkdtempSync(join(tmpdir(), 'bench-gather-'));
  const page = join(folder, 'page.png');
  try {
    const image = fullPage(smoke ? 300 : 600);
    const measured = async (scan: Grey, rounds: number): Promise<PageTold[]> => {
      writeFileSync(page, writePng({ widthPx: scan.widthPx, heightPx: scan.heightPx, bits: 8, data: scan.data }, 1));
      const all: PageTold[] = [];
      for (let round = 0; round < rounds; round++)
        all.push(JSON.parse((await inOwnProcess({ page, out: join(folder, `out-${scan.widthPx}-${round}`) }))[0]));
      return all.sort((a, b) => a.wallS - b.wallS);
    };
    const words = ({ wallS, cpuS, mostMemoryMb, pictures }: PageTold) =>
      `${pictures} pictures with their dots in ${wallS.toFixed(1)} s, ${cpuS.toFixed(1)} s of processor time, at most ${mostMemoryMb.toFixed(0)} MB`;
    const [best] = await measured(image, smoke ? 1 : 3);
    say(
      `gather: A4 at ${smoke ? 300 : 600} dpi, five strips: ${words(best)} on ${availableParallelism()} cores (wanted 6 s): ${goal(best.wallS <= 6)}`,
    );
    if (smoke) return;
    const [fine] = await measured(doubled(image), 1);
    say(`gather: the same at 1,200 dpi (${Math.round((4 * image.data.length) / 1e6)} megapixels): ${words(fine)}`);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
};

/** Scans of the virtual scanner and restored photographs, each against its goal. */
export const benchGather = async (say: Say, { smoke }: BenchOptions): Promise<void> => {
  await benchScans(say, smoke ? 12 : 528);
  benchRestoring(say, smoke);
};
