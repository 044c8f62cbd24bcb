import { spawnSync } from 'node:child_process';
import { encode } from 'jpeg-js';
import type { Look } from '../../src/config/schema.ts';
import { defaultConfig, lookSchema } from '../../src/config/schema.ts';
import type { Frame } from '../../src/parts/webcam.ts';
import { createDeveloper } from '../../src/picture/develop.ts';
import { builtInLooks } from '../../src/picture/looks.ts';
import { havePhotos, photo } from '../picture/photos.ts';
import type { BenchOptions } from './bench.ts';

const [widthPx, heightPx] = [1280, 720];
const caption = { shot: 1, takenAtMs: null };

/** A photograph (or a made-up wave, where there is none) as a grey frame. */
const greyFrame = (): Frame => {
  const source = havePhotos ? photo('astronaut') : null;
  const data = Uint8Array.from({ length: widthPx * heightPx }, (_, i) => {
    const [x, y] = [i % widthPx, Math.floor(i / widthPx)];
    if (!source) return 128 + 100 * Math.sin(x / 37) * Math.cos(y / 23);
    const from = Math.floor((y / heightPx) * source.heightPx) * source.widthPx;
    return source.data[from + Math.floor((x / widthPx) * source.widthPx)];
  });
  const stamps = { sequence: 1, exposureStartUs: 0, exposureEndUs: 1 };
  return { ...stamps, format: 'GREY', widthPx, heightPx, strideBytes: widthPx, range: 'full', data };
};
const asMjpeg = (frame: Frame): Frame => {
  const rgba = new Uint8Array(widthPx * heightPx * 4);
  frame.data.forEach((value, i) => {
    rgba.fill(value, 4 * i, 4 * i + 3);
    rgba[4 * i + 3] = 255;
  });
  return {
    ...frame,
    format: 'MJPEG',
    strideBytes: 0,
    data: encode({ width: widthPx, height: heightPx, data: rgba }, 85).data,
  };
};

const developerOf = (look: Look, widthDots = 384) =>
  createDeveloper({
    picture: defaultConfig().picture,
    look,
    profile: { widthDots, dotRadius: 0.65, toneCurve: [], dotsPerMm: 8 },
    cameraName: 'bench',
  });

/** Milliseconds of several jobs, run in turn so that what disturbs one disturbs all: the least of each, and the median. */
const timed = (jobs: (() => unknown)[], rounds: number): { least: number; median: number }[] => {
  const times = jobs.map(() => [] as number[]);
  for (let round = 0; round < rounds + 3; round++)
    jobs.forEach((job, i) => {
      const from = performance.now();
      job();
      if (round >= 3) times[i].push(performance.now() - from);
    });
  return times.map(list => {
    list.sort((a, b) => a - b);
    return { least: list[0], median: list[list.length >> 1] };
  });
};

export const benchSpeed = (say: (line: string) => void, { smoke }: BenchOptions): void => {
  const rounds = smoke ? 2 : 40;
  const frame = greyFrame();
  const mjpeg = asMjpeg(frame);
  const plain = developerOf(builtInLooks.plain);
  const quick = developerOf(lookSchema.parse({ halftone: 'ostromoukhov' }));
  const full = developerOf(builtInLooks.soft);
  const half = developerOf(lookSchema.parse({ halftone: 'ostromoukhov' }), 192);
  const copy = new Uint8Array(frame.data.length);
  const firstBand = () => {
    const picture = full.begin(frame, caption);
    while (picture.step() < 24);
  };
  const jobs: [title: string, run: () => unknown][] = [
    ['a bare copy of the frame', () => copy.set(frame.data)],
    ['plain look', () => plain.develop(frame, caption)],
    ['default look, dots by diffusion alone', () => quick.develop(frame, caption)],
    ['default look, dots by search', () => full.develop(frame, caption)],
    ['default look by search, first 24 rows', firstBand],
    ['MJPEG to dots, default look, diffusion', () => quick.develop(mjpeg, caption)],
    ['a quarter of the dots, diffusion', () => half.develop(frame, caption)],
  ];
  const pillow = spawnSync('/usr/bin/python3', ['test/bench/pillow.py', `${widthPx}`, `${heightPx}`, `${rounds}`], {
    input: frame.data,
    encoding: 'utf8',
  });
  const [least, median] = (pillow.stdout ?? '').trim().split(' ').map(Number);
  say(`picture: ${widthPx} × ${heightPx} to 384 × 512, milliseconds: least, median, least against Pillow's`);
  if (pillow.status === 0)
    say(`  ${"Pillow's plain way".padEnd(42)} ${least.toFixed(2).padStart(8)} ${median.toFixed(2).padStart(8)}`);
  else say('  Pillow isn’t here: no ratios');
  timed(
    jobs.map(([, run]) => run),
    rounds,
  ).forEach((ms, i) => {
    const ratio = pillow.status === 0 ? ` ${(ms.least / least).toFixed(2).padStart(8)}` : '';
    say(`  ${jobs[i][0].padEnd(42)} ${ms.least.toFixed(2).padStart(8)} ${ms.median.toFixed(2).padStart(8)}${ratio}`);
  });

  const pictures = smoke ? 20 : 1000;
  const collect = (globalThis as { gc?: () => void }).gc;
  for (let i = 0; i < 20; i++) quick.develop(frame, caption);
  collect?.();
  const before = process.memoryUsage();
  for (let i = 0; i < pictures; i++) quick.develop(frame, caption);
  collect?.();
  const after = process.memoryUsage();
  const grown = (after.heapUsed + after.arrayBuffers - before.heapUsed - before.arrayBuffers) / 1e6;
  say(
    `  ${`heap and buffers after ${pictures} more pictures`.padEnd(42)} ${grown.toFixed(2).padStart(8)} MB${collect ? '' : ' (node --expose-gc makes this exact)'}`,
  );
};
