import type { Frame } from '../../parts/webcam.ts';
import { createDeveloper } from '../../picture/develop.ts';
import { resolveLook } from '../../picture/looks.ts';
import { lumaOf } from '../../picture/luma.ts';
import { writePng } from '../../picture/png.ts';
import type { Bench, Finding, Trial } from './bench.ts';
import { until } from './bench.ts';

const wantedFrames = 12;

const meanLuma = (frame: Frame): number => {
  const { data } = lumaOf(frame);
  let sum = 0;
  for (const value of data) sum += value;
  return sum / data.length;
};

/** Frames a second and the spread of the times between them, from the frames' own stamps. */
export const rateOf = (startsUs: readonly number[]): { framesPerSecond: number; jitterUs: number } => {
  const steps = startsUs.slice(1).map((at, i) => at - startsUs[i]);
  const mean = steps.reduce((sum, step) => sum + step, 0) / Math.max(1, steps.length);
  const jitterUs = Math.sqrt(steps.reduce((sum, step) => sum + (step - mean) ** 2, 0) / Math.max(1, steps.length));
  return { framesPerSecond: mean > 0 ? 1e6 / mean : 0, jitterUs };
};

/** From the lamp's switching on to the end of the first frame that is brighter for it, µs; null where none is. */
const lampLatencyUs = async (bench: Bench): Promise<number | null> => {
  const { lamp, webcam, clock } = bench.rig;
  const seen: { endUs: number; luma: number }[] = [];
  const undo = webcam.watch(frame => void seen.push({ endUs: frame.exposureEndUs, luma: meanLuma(frame) }));
  try {
    lamp.show({ name: 'dark', stepsMs: [] });
    await bench.pause(700);
    const dark = seen.map(({ luma }) => luma);
    const mean = dark.reduce((sum, luma) => sum + luma, 0) / Math.max(1, dark.length);
    const spread = Math.max(1, ...dark.map(luma => Math.abs(luma - mean)));
    const litUs = clock.nowUs();
    lamp.show({ name: 'tryout-steady', stepsMs: [Number.POSITIVE_INFINITY] });
    await bench.pause(700);
    const first = seen.find(({ endUs, luma }) => endUs > litUs && luma > mean + 3 * spread);
    return first ? first.endUs - litUs : null;
  } finally {
    undo();
    lamp.show({ name: 'dark', stepsMs: [] });
  }
};

const run = async (bench: Bench): Promise<Finding[]> => {
  const { webcam } = bench.rig;
  let ready = false;
  let lostBecause = '';
  const close = webcam.open(said => {
    ready = said.kind === 'ready';
    if (said.kind === 'lost') lostBecause = said.why;
  });
  const frames: Frame[] = [];
  try {
    if (!(await until(bench, () => ready, 10_000))) {
      bench.say(
        `No picture within ten seconds${lostBecause ? `: ${lostBecause}` : ''}. Is ${bench.config.webcam.device} the right device, and may you read it (group video)?\n`,
      );
      return [];
    }
    const unwatch = webcam.watch(frame => void (frames.length < wantedFrames && frames.push(frame)));
    await until(bench, () => frames.length >= wantedFrames, 5000);
    unwatch();
    const [first] = frames;
    if (!first) {
      bench.say('It says it is ready, but no frame came.\n');
      return [];
    }
    const { framesPerSecond, jitterUs } = rateOf(frames.map(frame => frame.exposureStartUs));
    const exposureMs = (first.exposureEndUs - first.exposureStartUs) / 1000;
    bench.say(
      `${first.format} ${first.widthPx} × ${first.heightPx}, ${framesPerSecond.toFixed(1)} frames a second (uneven by ${Math.round(jitterUs)} µs), ` +
        `exposed for ${exposureMs.toFixed(1)} ms at the longest, mean brightness ${Math.round(meanLuma(first))} of 255.\n`,
    );
    const luma = lumaOf(frames[frames.length - 1]);
    const developer = createDeveloper({
      picture: bench.config.picture,
      look: resolveLook(bench.config.picture),
      profile: bench.profile,
      cameraName: bench.config.camera.name,
    });
    const dots = developer.develop(frames[frames.length - 1], { shot: 0, takenAtMs: null });
    const framePath = bench.keep(
      'webcam.png',
      writePng({ widthPx: luma.widthPx, heightPx: luma.heightPx, bits: 8, data: luma.data }),
    );
    const dotsPath = bench.keep(
      'webcam-dots.png',
      writePng({
        widthPx: dots.widthDots,
        heightPx: dots.heightDots,
        bits: 1,
        strideBytes: dots.strideBytes,
        data: dots.data,
        dpi: 203,
      }),
    );
    bench.say(`A frame is in ${framePath}, its dots in ${dotsPath}.\n`);
    const latencyUs = await lampLatencyUs(bench);
    bench.say(
      latencyUs === null
        ? 'The lamp makes no difference that the webcam sees: point it at the lamp to measure the delay.\n'
        : `From the lamp’s switching on to a frame that shows it: ${Math.round(latencyUs / 1000)} ms.\n`,
    );
    return [];
  } finally {
    close();
  }
};

export const webcamTrial: Trial = {
  part: 'webcam',
  does: 'takes a few frames, as picture and as dots',
  cautions: [],
  run,
};
