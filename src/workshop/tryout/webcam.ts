import type { Frame } from '../../parts/webcam.ts';
import { createDeveloper } from '../../picture/develop.ts';
import { resolveLook } from '../../picture/looks.ts';
import { lumaOf } from '../../picture/luma.ts';
import { writePng } from '../../picture/png.ts';
import type { Bench, Outcome, Trial } from './bench.ts';
import { fails, until, works } from './bench.ts';

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

/** What the webcam offers, sizes and fastest rates by format. */
const offers = async (bench: Bench): Promise<string> => {
  const offered = await bench.webcamOffers();
  if (!offered || offered.modes.length === 0) return 'It can’t be asked what it offers.\n';
  const formats = [...new Set(offered.modes.map(({ format }) => format))];
  const rows = formats.map(format => {
    const sizes = offered.modes
      .filter(mode => mode.format === format)
      .map(({ widthPx, heightPx, framesPerSecond }) => {
        const rate = framesPerSecond === null ? '' : ` (${Math.round(framesPerSecond)}/s)`;
        return `${widthPx} × ${heightPx}${rate}`;
      });
    return `  ${format.padEnd(6)} ${sizes.join(', ')}\n`;
  });
  return `${offered.card || bench.config.webcam.device} offers\n${rows.join('')}`;
};

const blinks = 3;
/** Time for exposure to come to rest in the dark, frames to compare with, and the longest delay looked for. */
const restMs = 700;
const darkMs = 300;
const latestMs = 700;

interface Delay {
  /** From the lamp's switching on to the end of exposure of the first frame that shows it, by the frame's own stamp, µs. */
  exposedUs: number;
  /** The same until the program had that frame, µs. */
  arrivedUs: number;
}

/** How late the webcam sees one blink; null where it doesn't see it. */
const lampDelay = async (bench: Bench): Promise<Delay | null> => {
  const { lamp, webcam } = bench.rig;
  const seen: (Delay & { luma: number })[] = [];
  lamp.show({ name: 'dark', stepsMs: [] });
  await bench.pause(restMs);
  const undo = webcam.watch(frame =>
    seen.push({ exposedUs: frame.exposureEndUs, arrivedUs: bench.nowUs(), luma: meanLuma(frame) }),
  );
  try {
    await bench.pause(darkMs);
    const before = seen.splice(0).map(({ luma }) => luma);
    const mean = before.reduce((sum, luma) => sum + luma, 0) / Math.max(1, before.length);
    const spread = Math.max(0.5, ...before.map(luma => Math.abs(luma - mean)));
    const litUs = bench.nowUs();
    lamp.show({ name: 'tryout-steady', stepsMs: [Number.POSITIVE_INFINITY] });
    const brighter = () => seen.find(({ exposedUs, luma }) => exposedUs > litUs && luma > mean + 3 * spread);
    await until(bench, () => brighter() !== undefined, latestMs);
    const first = brighter();
    return first ? { exposedUs: first.exposedUs - litUs, arrivedUs: first.arrivedUs - litUs } : null;
  } finally {
    undo();
    lamp.show({ name: 'dark', stepsMs: [] });
  }
};

const range = (us: readonly number[]): string => {
  const [least, most] = [Math.min(...us), Math.max(...us)].map(value => Math.round(value / 1000));
  return least === most ? `${least}` : `${least} to ${most}`;
};

const run = async (bench: Bench): Promise<Outcome> => {
  bench.say(await offers(bench));
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
      return fails;
    }
    const unwatch = webcam.watch(frame => void (frames.length < wantedFrames && frames.push(frame)));
    await until(bench, () => frames.length >= wantedFrames, 5000);
    unwatch();
    const [first] = frames;
    if (!first) {
      bench.say('It says it is ready, but no frame came.\n');
      return fails;
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
        dpi: Math.round(bench.profile.dotsPerMm * 25.4),
      }),
    );
    bench.say(`A frame is in ${framePath}, its dots in ${dotsPath}.\n`);
    if (bench.config.lamp.line === null && bench.config.lamp.led === '') return works();
    bench.say(`The lamp blinks ${blinks} times: point the webcam at it.\n`);
    const delays: Delay[] = [];
    for (let i = 0; i < blinks && delays.length === i; i++) {
      const delay = await lampDelay(bench);
      if (delay) delays.push(delay);
    }
    bench.say(
      delays.length < blinks
        ? 'The lamp makes no difference that the webcam sees, so the delay can’t be measured.\n'
        : `From the lamp’s switching on to the first frame that shows it: ${range(delays.map(({ exposedUs }) => exposedUs))} ms ` +
            `until it was exposed, ${range(delays.map(({ arrivedUs }) => arrivedUs))} ms until it was here.\n`,
    );
    return works();
  } finally {
    close();
  }
};

export const webcamTrial: Trial = {
  part: 'webcam',
  does: 'takes a few frames, and looks how late it sees the lamp',
  cautions: [],
  unfitted: () => '',
  run,
};
