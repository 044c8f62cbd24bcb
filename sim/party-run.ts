import type { Disk } from '../src/album/disk.ts';
import { defaultProfile, type Profile } from '../src/config/profile.ts';
import { type Config, defaultConfig } from '../src/config/schema.ts';
import { createLog } from '../src/console/log.ts';
import { createOutlet } from '../src/console/outlet.ts';
import type { Log } from '../src/console/vocabulary.ts';
import type { Album } from '../src/parts/album.ts';
import type { Clock } from '../src/parts/clock.ts';
import type { Dots } from '../src/parts/darkroom.ts';
import type { Rig } from '../src/parts/rig.ts';
import type { Frame } from '../src/parts/webcam.ts';
import { createVirtualClock } from './clock.ts';
import { createConsoleCount } from './console-count.ts';
import type { DiskModel } from './disk.ts';
import { type Evidence, judge, type PrinterSample, type Violation } from './judge.ts';
import { play } from './play.ts';
import { createVirtualRig } from './rig.ts';
import type { Script } from './script.ts';
import { createStampScene, developStamp } from './stamp.ts';
import { createTraces } from './traces.ts';

/** The program under judgement, as far as a party needs it. */
export interface Program {
  /** Puts the camera on a rig; throws only for a fault of the program. */
  start(rig: Rig, config: Config, profile: Profile, log: Log): void;
  createAlbum(disk: Disk, clock: Clock, config: Config): Album;
  /** Every picture in the album on a disk that can be read whole. */
  picturesOn(disk: DiskModel): Frame[];
  /** The number in the code that a line of ink carries. */
  codeIn(dots: Uint8Array): number | null;
}

export interface PartyResult {
  violations: Violation[];
  presses: number;
  /** Pictures that were answered by a stroke, acknowledged by a second one, and printed. */
  taken: number;
  acknowledged: number;
  printed: number;
  cuts: number;
  lifeS: number;
}

const takenMsOf = ({ data }: Dots): number => new DataView(data.buffer, data.byteOffset).getUint32(1);

/** Everything must be ready this long after it was healed. */
const readyWithinUs = 30_000_000;
/** Then what is queued is printed; nothing takes longer than this. */
const printedWithinUs = 240_000_000;
const sampleEveryUs = 1_000_000;
/** Lines that wait for a jammed console: few, so that some are dropped within a party. */
const logBytes = 4096;

/**
 * Lets a party happen on very small pictures, heals everything, presses once more when the camera must be ready, waits
 * until it is at rest, and judges.
 */
export interface PartyWatched {
  onLog?(line: object): void;
  /** When all is over, before it is judged. */
  onEnd?(evidence: Evidence): void;
}

export const runParty = (script: Script, program: Program, watched: PartyWatched = {}): PartyResult => {
  const { config = defaultConfig(), profile = defaultProfile() } = script;
  const develop = developStamp(profile.widthDots);
  const clock = createVirtualClock();
  const traces = createTraces(clock.nowUs);
  const rig = createVirtualRig({
    config,
    profile,
    seed: script.seed,
    clock,
    traces,
    scene: createStampScene(),
    develop,
    developUs: () => 150_000,
    createAlbum: (disk, lifeClock) => program.createAlbum(disk, lifeClock, config),
    rollMm: script.paperMm,
    roomC: script.roomC,
    sparse: true,
  });
  const numbered = new Map<number, Set<number>>();
  rig.control.darkroom.onDeveloped = (shot, _frame, dots) => {
    numbered.set(shot, (numbered.get(shot) ?? new Set()).add(takenMsOf(dots)));
  };
  let crash: Violation | null = null;
  let lastWordUs = 0;
  const count = createConsoleCount(rig.console);
  /** The log as the board has it, on the way to a console that may be slow or jammed. */
  const openLog = (): Log => {
    const { clock: lifeClock } = rig.life;
    let say: Log = () => {};
    const outlet = createOutlet({
      way: rig.console.way,
      longestBytes: logBytes,
      onDropped: lines => say('dropped', { lines }),
      later: (delayMs, act) => lifeClock.after(delayMs * 1000, act),
    });
    say = createLog({ clock: lifeClock, level: config.log.level, destination: count.counted(outlet) });
    return (event, fields) => {
      lastWordUs = clock.nowUs();
      watched.onLog?.({ atS: clock.nowUs() / 1e6, event, ...fields });
      say(event, fields);
    };
  };
  const guarded = (act: () => void) => {
    if (crash) return;
    try {
      act();
    } catch (error) {
      crash = {
        promise: 'crash',
        atUs: clock.nowUs(),
        what: error instanceof Error ? (error.stack ?? error.message) : String(error),
      };
    }
  };
  const boot = () => guarded(() => program.start(rig.rig, config, profile, openLog()));
  const samples: PrinterSample[] = [];
  const sample = () => {
    samples.push({ atUs: clock.nowUs(), bytesLost: rig.printer.stats().bytesLost, headC: rig.printer.headC() });
    clock.after(sampleEveryUs, sample);
  };

  boot();
  sample();
  const { spans, healAll } = play(rig, script, { onBoot: boot, scenes: false });
  guarded(() => clock.runUntil(script.endS * 1e6));
  guarded(healAll);
  const healedUs = clock.nowUs();
  guarded(() => clock.runUntil(healedUs + readyWithinUs));
  const strokes = () => traces.of('coil').filter(({ value }) => value === 1).length;
  const before = strokes();
  rig.control.press(100);
  guarded(() => clock.runUntil(clock.nowUs() + 5_000_000));
  const stuck: Violation[] =
    strokes() - before === 2
      ? []
      : [
          {
            promise: 'stuck',
            atUs: clock.nowUs(),
            what: `${strokes() - before} strokes answer a press ${readyWithinUs / 1e6} s after everything was healed`,
          },
        ];
  // At rest: neither head nor log has moved for a while.
  const untilUs = clock.nowUs() + printedWithinUs;
  guarded(() => {
    while (clock.nowUs() < untilUs) {
      clock.runUntil(clock.nowUs() + 1_000_000);
      const lastMoveUs = Math.max(lastWordUs, traces.of('head').at(-1)?.atUs ?? 0);
      if (clock.nowUs() - lastMoveUs > 8_000_000) break;
    }
  });

  const evidence: Evidence = {
    config,
    profile,
    traces,
    paper: rig.printer.paper,
    endUs: clock.nowUs(),
    faults: spans,
    samples,
    numbered,
    kept: new Set(program.picturesOn(rig.disk).map(frame => takenMsOf(develop(frame, { shot: 0, takenAtMs: null })))),
    codeIn: program.codeIn,
    atRest: true,
  };
  watched.onEnd?.(evidence);
  const { violations, shots, printed } = judge(evidence);
  return {
    violations: crash ? [crash] : [...violations, ...stuck, ...count.violations(clock.nowUs())],
    presses: rig.control.button.presses,
    taken: shots.length,
    acknowledged: shots.filter(({ secondUs }) => secondUs !== null).length,
    printed,
    cuts: spans.filter(({ fault }) => fault === 'power-cut' || fault === 'brown-out').length,
    lifeS: clock.nowUs() / 1e6,
  };
};
