import { startCamera } from '../src/camera.ts';
import type { Profile } from '../src/config/profile.ts';
import type { Config } from '../src/config/schema.ts';
import { createLog } from '../src/console/log.ts';
import type { Log } from '../src/console/vocabulary.ts';
import type { ServiceInput } from '../src/machine/events.ts';
import type { RunningMachine } from '../src/machine/start.ts';
import type { Imprint } from '../src/print/imprint.ts';
import { createRecorder, headerOf, type Recorder } from '../src/record/recorder.ts';
import { createCameraRig } from './camera-rig.ts';
import { createVirtualClock } from './clock.ts';
import type { Paper } from './paper/paper.ts';
import type { Photo } from './photos.ts';
import { play } from './play.ts';
import type { LogLine } from './report/page.ts';
import type { VirtualRig } from './rig.ts';
import type { Script } from './script.ts';
import { createTraces, type Traces } from './traces.ts';

export interface RehearsalOptions {
  script: Script;
  config: Config;
  profile: Profile;
  /** Shown to the lens instead of the script's scene, a new one with each press. */
  photos: readonly Photo[];
  imprint: Imprint | null;
  /** Called about once a second of virtual time; false stops the rehearsal there. */
  onProgress?(atS: number): boolean;
  /** Keeps no trace of every frame, blink and line: for long runs. */
  sparse?: boolean;
}

export interface Rehearsal {
  paper: Paper;
  traces: Traces;
  log: LogLine[];
  /** NDJSON as the camera wrote it. */
  logText: string;
  /** Inputs of each life of the program; a power cut begins another. */
  recordings: string[];
  /** Every byte that the printer was sent. */
  printerBytes: Uint8Array;
  lives: number;
  lifeS: number;
  closed: boolean;
}

/** What is queued when the party is over may take this long, and closing this long. */
const afterPartyS = 600;
const closingS = 10;

/** Plays a party script on virtual parts with the real machine, pipeline and print stream. */
export const rehearse = (options: RehearsalOptions): Rehearsal => {
  const { script, config, profile, photos } = options;
  const clock = createVirtualClock();
  const traces = createTraces(clock.nowUs);
  const sent: Uint8Array[] = [];
  const { rig, slides } = createCameraRig({
    config,
    profile,
    seed: script.seed,
    clock,
    traces,
    scene: script.scene,
    photos,
    rollMm: script.paperMm,
    roomC: script.roomC,
    tap: bytes => sent.push(bytes.slice()),
    onWallStep: stepMs => say('clock-step', { stepMs }),
    sparse: options.sparse,
    tearsAfterMs: 1500,
  });

  const log: LogLine[] = [];
  const logTexts: string[] = [];
  const recordings: string[][] = [];
  let camera: RunningMachine | null = null;
  let recorder: Recorder | null = null;
  let say: Log = () => {};
  let closed = false;
  const startLife = () => {
    const life = rig.rig;
    const lines: string[] = [];
    recordings.push(lines);
    const startedAtMs = life.clock.wallMs();
    recorder = createRecorder({
      header: headerOf({
        config,
        profile,
        startedAtMs,
        shutterSays: life.shutter.listen !== undefined,
        seed: script.seed,
      }),
      write: line => lines.push(line),
    });
    rig.life.record(recorder.sink);
    say = createLog({
      clock: life.clock,
      level: config.log.level,
      destination: {
        write(line) {
          logTexts.push(line);
          log.push({ ...(JSON.parse(line) as LogLine), atUs: clock.nowUs() });
          if (slides && line.includes('"event":"frame"')) slides.advance(clock.nowUs());
        },
      },
    });
    camera = startCamera({
      rig: life,
      config,
      profile,
      imprint: options.imprint,
      log: say,
      onTransition: states =>
        traces.record(
          'state',
          Object.entries(states)
            .map(([region, state]) => `${region}.${state}`)
            .join(' '),
        ),
    });
    camera.closed(() => {
      closed = true;
    });
  };

  startLife();
  play(rig, script, { onBoot: startLife, scenes: slides === null });
  const goOn = advance(rig, options.onProgress);
  goOn(script.endS, () => false);
  goOn(script.endS + afterPartyS, () => atRest(camera));
  const close: ServiceInput = { type: 'service.close', why: 'the rehearsal is over' };
  rig.life.inlet.take('service', { ...close }, () => camera?.send(close));
  goOn(clock.nowUs() / 1e6 + closingS, () => closed);
  (recorder as Recorder | null)?.end(rig.life.clock.nowUs());

  return {
    paper: rig.printer.paper,
    traces,
    log,
    logText: logTexts.join(''),
    recordings: recordings.map(lines => lines.join('')),
    printerBytes: Buffer.concat(sent),
    lives: recordings.length,
    lifeS: clock.nowUs() / 1e6,
    closed,
  };
};

const atRest = (camera: RunningMachine | null): boolean => {
  const states = camera?.states();
  return (
    states?.output === 'idle' && ['ready', 'blind', 'warming'].includes(states.exposure) && states.service === 'idle'
  );
};

/** Lets virtual time go on second by second until a moment, or until something holds, or the person has enough of it. */
const advance = ({ clock }: VirtualRig, onProgress: RehearsalOptions['onProgress']) => {
  let stopped = false;
  return (untilS: number, enough: () => boolean) => {
    while (!stopped && clock.nowUs() < untilS * 1e6 && !enough()) {
      clock.runUntil(Math.min(untilS * 1e6, clock.nowUs() + 1e6));
      stopped = onProgress?.(clock.nowUs() / 1e6) === false;
    }
  };
};
