import { spawnSync } from 'node:child_process';
import { encode } from 'jpeg-js';
import type { Look } from '../../src/config/schema.ts';
import { defaultConfig, lookSchema } from '../../src/config/schema.ts';
import { createThreadDarkroom } from '../../src/linux/darkroom.ts';
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

const profile = { widthDots: 384, dotRadius: 0.65, toneCurve: [], dotsPerMm: 8 };
const developerOf = (look: Look, widthDots = 384) =>
  createDeveloper({
    picture: defaultConfig().picture,
    look,
    profile: { ...profile, widthDots },
    cameraName: 'bench',
  });

const diffused = lookSchema.parse({ halftone: 'ostromoukhov' });

/** Each is run in a process of its own, as the camera's darkroom has a thread of its own with one look. */
const jobs: Readonly<Record<string, (frame: Frame) => () => unknown>> = {
  'a bare copy of the frame': frame => {
    const copy = new Uint8Array(frame.data.length);
    return () => copy.set(frame.data);
  },
  'plain look': frame => {
    const developer = developerOf(builtInLooks.plain);
    return () => developer.develop(frame, caption);
  },
  'default look, dots by diffusion alone': frame => {
    const developer = developerOf(diffused);
    return () => developer.develop(frame, caption);
  },
  'the same from MJPEG': frame => {
    const developer = developerOf(diffused);
    const mjpeg = asMjpeg(frame);
    return () => developer.develop(mjpeg, caption);
  },
  'the same from GREY, a quarter of the dots': frame => {
    const developer = developerOf(diffused, 192);
    return () => developer.develop(frame, caption);
  },
  'the same, four times the dots': frame => {
    const developer = developerOf(diffused, 768);
    return () => developer.develop(frame, caption);
  },
  'default look, dots by search': frame => {
    const developer = developerOf(builtInLooks.soft);
    return () => developer.develop(frame, caption);
  },
  'the same, first 24 rows': frame => {
    const developer = developerOf(builtInLooks.soft);
    return () => {
      const picture = developer.begin(frame, caption);
      while (picture.step() < 24);
    };
  },
};

/** Processor time of this process, ms: unlike the clock's, it doesn't grow when others keep the machine busy. */
const spentMs = (): number => {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1000;
};

/** One job, alone: least and median ms, and what heap and buffers grew by, MB. */
export const runSpeedJob = (name: string, rounds: number): void => {
  const run = jobs[name](greyFrame());
  const times: number[] = [];
  const collect = (globalThis as { gc?: () => void }).gc ?? (() => {});
  const held = () => {
    collect();
    const { heapUsed, arrayBuffers } = process.memoryUsage();
    return heapUsed + arrayBuffers;
  };
  for (let round = 0; round < 10; round++) run();
  const before = held();
  for (let round = 0; round < rounds; round++) {
    const from = spentMs();
    run();
    times.push(spentMs() - from);
  }
  const grown = (held() - before) / 1e6;
  times.sort((a, b) => a - b);
  process.stdout.write(JSON.stringify({ least: times[0], median: times[times.length >> 1], grown }));
};

const inOwnProcess = (name: string, rounds: number): { least: number; median: number; grown: number } => {
  const { stdout, stderr, status } = spawnSync(
    process.execPath,
    ['--expose-gc', process.argv[1], '--speed-job', name, '--rounds', `${rounds}`],
    { encoding: 'utf8' },
  );
  if (status !== 0) throw new Error(`the job '${name}' failed: ${stderr}`);
  return JSON.parse(stdout);
};

/** What the daemon waits for at the darkroom's door, wall time in ms: the first picture of a thread, and the median of others. */
const atTheDoor = async (frame: Frame, rounds: number): Promise<{ first: number; median: number }> => {
  const darkroom = createThreadDarkroom(new URL('./darkroom-thread.mjs', import.meta.url), {
    picture: defaultConfig().picture,
    profile,
    cameraName: 'bench',
  });
  const times: number[] = [];
  // The thread alone keeps no process alive.
  const held = setInterval(() => {}, 1000);
  darkroom.warmUp();
  await new Promise(resolve => setTimeout(resolve, 500));
  for (let round = 0; round <= rounds; round++) {
    const from = performance.now();
    await new Promise(resolve => darkroom.develop(frame, caption, resolve));
    times.push(performance.now() - from);
  }
  darkroom.close();
  clearInterval(held);
  const [first, ...others] = times;
  others.sort((x, y) => x - y);
  return { first, median: others[others.length >> 1] };
};

export const benchSpeed = async (say: (line: string) => void, { smoke }: BenchOptions): Promise<void> => {
  const rounds = smoke ? 2 : 40;
  const frame = greyFrame();
  const pillow = spawnSync('/usr/bin/python3', ['test/bench/pillow.py', `${widthPx}`, `${heightPx}`, `${rounds}`], {
    input: frame.data,
    encoding: 'utf8',
  });
  const [least, median] = (pillow.stdout ?? '').trim().split(' ').map(Number);
  const line = (title: string, ...columns: string[]) =>
    say(`  ${title.padEnd(50)}${columns.map(column => column.padStart(9)).join('')}`);
  say(`picture: ${widthPx} × ${heightPx} to 384 × 512, ms of processor time: least, median, median against Pillow's`);
  if (pillow.status === 0) line("Pillow's plain way", least.toFixed(2), median.toFixed(2));
  else say('  Pillow isn’t here: no ratios');
  const medians: Record<string, number> = {};
  for (const name of Object.keys(jobs)) {
    const ms = inOwnProcess(name, rounds);
    medians[name] = ms.median;
    const ratio = pillow.status === 0 ? [(ms.median / median).toFixed(2)] : [];
    line(name, ms.least.toFixed(2), ms.median.toFixed(2), ...ratio);
  }
  const pictures = smoke ? 20 : 1000;
  const { grown } = inOwnProcess('default look, dots by diffusion alone', pictures);
  const door = await atTheDoor(frame, rounds);
  line('default look at the darkroom’s door, wall', door.first.toFixed(2), door.median.toFixed(2));
  say('    (first picture of the thread, median of the others)');

  const goal = (title: string, value: number, most: number, unit: string) =>
    line(title, value.toFixed(2), `≤ ${most}`, unit, value <= most ? 'met' : 'NOT MET');
  say('picture: goals');
  if (pillow.status === 0) {
    goal('plain look against Pillow', medians['plain look'] / median, 0.7, '×');
    goal('default look by diffusion against Pillow', medians['default look, dots by diffusion alone'] / median, 2, '×');
  }
  goal('MJPEG to dots', medians['the same from MJPEG'], 25, 'ms');
  goal('first 24 rows by search', medians['the same, first 24 rows'], 10, 'ms');
  goal(
    'time a dot, four times the dots against one time',
    medians['the same, four times the dots'] / medians['default look, dots by diffusion alone'] / 4,
    1.1,
    '×',
  );
  goal(`heap and buffers grew over ${pictures} pictures by`, grown, 2, 'MB');
};
