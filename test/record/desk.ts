import { createCard } from '../../sim/card.ts';
import { createVirtualClock } from '../../sim/clock.ts';
import { play } from '../../sim/play.ts';
import { createVirtualRig } from '../../sim/rig.ts';
import { type Script, scriptSchema } from '../../sim/script.ts';
import { createAlbum } from '../../src/album/album.ts';
import { startCamera } from '../../src/camera.ts';
import { type Profile, profileSchema } from '../../src/config/profile.ts';
import { type Config, configSchema } from '../../src/config/schema.ts';
import { createLog } from '../../src/console/log.ts';
import type { Log } from '../../src/console/vocabulary.ts';
import type { ServiceInput } from '../../src/machine/events.ts';
import type { RunningMachine } from '../../src/machine/start.ts';
import type { Dots } from '../../src/parts/darkroom.ts';
import type { Imprint } from '../../src/print/imprint.ts';
import { createRecordingParser } from '../../src/record/read.ts';
import { createRecorder, headerOf } from '../../src/record/recorder.ts';
import { createReplay, type Replay, type ReplayOptions } from '../../src/record/replay.ts';
import { noise } from '../print/desk.ts';

/** Small frames and a small head: what is recorded is the same, and a test takes no time. */
export const smallConfig = (change: Record<string, unknown> = {}): Config =>
  configSchema.parse({ webcam: { format: 'GREY', widthPx: 64, heightPx: 64 }, printer: { imprint: false }, ...change });
export const smallProfile = (): Profile => profileSchema.parse({ widthDots: 64 });

const smallDots = (shot: number): Dots => {
  const data = new Uint8Array(8 * 40);
  for (let i = 0; i < data.length; i++) data[i] = (i * 37 + shot * 11) & 255;
  return { widthDots: 64, heightDots: 40, strideBytes: 8, data };
};

/** A whole picture of the default head: something like a photograph, other dots for each number. */
export const wholeDots = (shot: number): Dots => noise(384, 512, y => 0.35 + 0.2 * Math.sin(y / 40), shot);

export interface Recorded {
  /** A recording for each life of the program. */
  lives: { text: string; log: string; bytes: Uint8Array; endUs: number }[];
}

export const scriptOf = (steps: readonly object[], endS: number, seed = 1): Script =>
  scriptSchema.parse({ title: 'a test', seed, endS, steps });

/** Lets a script happen on the virtual rig, and closes the camera at its end. */
export const recordScript = (
  script: Script,
  config = smallConfig(),
  profile = smallProfile(),
  alsoLog: (line: string) => void = () => {},
  { dotsOf = smallDots, imprint = null }: { dotsOf?: (shot: number) => Dots; imprint?: Imprint | null } = {},
): Recorded => {
  const lives: { recording: string[]; log: string[]; bytes: Uint8Array[]; endUs: number }[] = [];
  const clock = createVirtualClock();
  let say: Log = () => {};
  let camera: RunningMachine | null = null;
  let end = () => {};
  const rig = createVirtualRig({
    config,
    profile,
    seed: script.seed,
    clock,
    scene: createCard(),
    develop: (_, { shot }) => dotsOf(shot),
    developUs: () => 300_000,
    createAlbum: (disk, lifeClock) => createAlbum({ disk, clock: lifeClock, config }),
    onWallStep: stepMs => say('clock-step', { stepMs }),
    sparse: true,
  });
  const boot = () => {
    const life = { recording: [] as string[], log: [] as string[], bytes: [] as Uint8Array[], endUs: 0 };
    lives.push(life);
    const { rig: parts, life: program } = rig;
    const write = parts.printer.write;
    const recorder = createRecorder({
      header: headerOf({
        config,
        profile,
        startedAtMs: parts.clock.wallMs(),
        startedMonoUs: 2_000_000,
        shutterSays: parts.shutter.listen !== undefined,
        seed: script.seed,
      }),
      write: line => life.recording.push(line),
    });
    program.record((atUs, part, said) => {
      life.endUs = atUs;
      recorder.sink(atUs, part, said);
    });
    say = createLog({
      clock: parts.clock,
      level: 'trace',
      startedMonoUs: 2_000_000,
      destination: {
        write(line) {
          life.log.push(line);
          alsoLog(line);
        },
      },
    });
    const printer = {
      ...parts.printer,
      write(bytes: Uint8Array) {
        life.bytes.push(bytes.slice());
        write(bytes);
      },
    };
    camera = startCamera({ rig: { ...parts, printer }, config, profile, imprint, log: say });
    end = () => {
      life.endUs = parts.clock.nowUs();
      recorder.end(life.endUs);
    };
  };
  boot();
  const { healAll } = play(rig, script, { onBoot: boot, scenes: false });
  clock.runUntil(script.endS * 1e6);
  healAll();
  const close: ServiceInput = { type: 'service.close', why: 'the end' };
  rig.life.inlet.take('service', { ...close }, () => camera?.send(close));
  clock.runUntil(clock.nowUs() + 10e6);
  end();
  return {
    lives: lives.map(({ recording, log, bytes, endUs }) => ({
      text: recording.join(''),
      log: log.join(''),
      bytes: Buffer.concat(bytes),
      endUs,
    })),
  };
};

export interface ReplayedText {
  replay: Replay;
  log: string;
  bytes: Uint8Array;
}

/** Replays the text of one life. */
export const replayText = (text: string, options: Partial<ReplayOptions> = {}, untilUs?: number): ReplayedText => {
  const parser = createRecordingParser('the recording');
  const log: string[] = [];
  const bytes: Uint8Array[] = [];
  let replay: Replay | null = null;
  for (const item of [...parser.push(Buffer.from(text)), ...parser.end()]) {
    if (item.kind === 'input') replay?.take(item.line, item.entry);
    else
      replay = createReplay({
        header: item.header,
        clock: createVirtualClock(Date.parse(item.header.startedAt)),
        imprint: null,
        onLog: line => log.push(line),
        deeds: { printer: one => bytes.push(one.slice()) },
        ...options,
      });
  }
  if (!replay) throw new Error('no header');
  replay.end(untilUs);
  return { replay, log: log.join(''), bytes: Buffer.concat(bytes) };
};

/** A recording with its lines changed. */
export const edited = (text: string, change: (lines: string[]) => string[]): string => {
  const lines = text.trimEnd().split('\n');
  return `${change(lines).join('\n')}\n`;
};
