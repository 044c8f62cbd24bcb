import { createVirtualClock, type VirtualClock } from '../../sim/clock.ts';
import { defaultProfile } from '../../src/config/profile.ts';
import { type Config, defaultConfig } from '../../src/config/schema.ts';
import type { EventName, FieldsOf } from '../../src/console/vocabulary.ts';
import { type MachineOptions, type RunningMachine, startMachine } from '../../src/machine/start.ts';
import type { About, AlbumSaid, KeepSaid, PrintMark, RecallSaid } from '../../src/parts/album.ts';
import type { ButtonSaid } from '../../src/parts/button.ts';
import type { Undo } from '../../src/parts/clock.ts';
import type { DarkroomSaid, Dots } from '../../src/parts/darkroom.ts';
import type { EngineSaid, JobSaid, PrinterCondition } from '../../src/parts/engine.ts';
import type { Shutter } from '../../src/parts/shutter.ts';
import type { SupplySaid } from '../../src/parts/supply.ts';
import type { Frame, WebcamSaid } from '../../src/parts/webcam.ts';

export const fine: PrinterCondition = {
  lost: false,
  paperOut: false,
  lidOpen: false,
  headHot: false,
  offLine: false,
  nearEnd: false,
};

export const frameAt = (exposureStartUs: number, sequence = 0, exposureUs = 10_000): Frame => ({
  sequence,
  exposureStartUs,
  exposureEndUs: exposureStartUs + exposureUs,
  format: 'GREY',
  widthPx: 4,
  heightPx: 1,
  strideBytes: 4,
  range: 'full',
  data: new Uint8Array(4),
});

/** What album and darkroom say when it didn't work. */
interface Failed {
  kind: 'failed';
  why: string;
}

export const someDots: Dots = { widthDots: 8, heightDots: 2, strideBytes: 1, data: Uint8Array.of(0xf0, 0x00) };

type Logged = { [E in EventName]: { event: E; atUs: number; fields: FieldsOf<E> } }[EventName];

/**
 * The machine on small scripted parts. By default all goes well and takes its time; every part can be told to be silent
 * or to fail, and then be answered for by hand.
 */
export interface Desk {
  clock: VirtualClock;
  config: Config;
  machine: RunningMachine;
  log: Logged[];
  /** Fields of every line of one event. */
  lines<E extends EventName>(event: E): FieldsOf<E>[];
  visited: Set<string>;
  /** Runs the virtual clock on by this many milliseconds. */
  run(ms: number): void;
  press(heldMs?: number): void;
  contact(down: boolean): void;
  say: {
    webcam(said: WebcamSaid): void;
    album(said: AlbumSaid): void;
    engine(said: EngineSaid): void;
    condition(change: Partial<PrinterCondition>): void;
    supply(said: SupplySaid): void;
    frame(frame: Frame): void;
  };
  /** Answers that were held back, oldest first. */
  pending: {
    keep: { shot: number; answer(said: KeepSaid): void }[];
    mark: { shot: number; mark: PrintMark; answer(said: KeepSaid): void }[];
    develop: { shot: number; answer(said: DarkroomSaid): void }[];
    recall: { shot: number; answer(said: RecallSaid): void }[];
    job: { kind: 'body' | 'tail' | 'feed'; shot: number; lines: number; answer(said: JobSaid): void }[];
  };
  /** What the parts saw. */
  seen: {
    coil: { onUs: number; offUs: number | null }[];
    bodies: number[];
    tails: number[];
    fed: number[];
    marks: [number, PrintMark][];
    kept: number[];
    lamp: string[];
    motor: ('in' | 'out' | 'off')[];
    paperMm: number;
    newRolls: number;
    rollUsedMm: number;
    /** Marks that became durable. */
    durable: [number, PrintMark][];
    undone: string[];
  };
  coilOn(): boolean;
  /** What is started now, by name. */
  running: Set<string>;
}

export interface DeskOptions {
  config?: (config: Config) => void;
  gestures?: Partial<Config['gestures']>;
  reverse?: boolean;
  status?: 'none' | 'polled';
  /** Parts that answer only by hand. */
  byHand?: readonly ('frames' | 'keep' | 'mark' | 'develop' | 'recall' | 'job' | 'start')[];
  coilFails?: () => boolean;
  coilWaitUs?: (pulseUs: number) => number;
  restUs?: () => number;
  throws?: readonly (
    | 'button'
    | 'webcam'
    | 'album'
    | 'engine'
    | 'supply'
    | 'lamp'
    | 'motor'
    | 'body'
    | 'tail'
    | 'feed'
    | 'develop'
    | 'recall'
    | 'watch'
    | 'keep'
    | 'mark'
    | 'release'
  )[];
  picturesLeft?: () => number;
  wallAtStartMs?: number;
  machine?: Partial<MachineOptions>;
  framePeriodUs?: number;
  /** Answers that parts give instead of success while set; may be changed while the machine runs. */
  failing?: Partial<Record<'keep' | 'mark' | 'recall' | 'develop', boolean>>;
  /** A job is cut when the printer gets into trouble, and one that begins then is cut at once. */
  jobsStopWhenTroubled?: boolean;
  /** A shutter of the test's own. */
  shutter?: (clock: VirtualClock) => Shutter;
  onKeep?: (about: About) => void;
}

export const createDesk = (options: DeskOptions = {}): Desk => {
  const clock = createVirtualClock(options.wallAtStartMs);
  const config = defaultConfig();
  options.config?.(config);
  Object.assign(config.gestures, options.gestures);
  const profile = defaultProfile();
  profile.commands.reverse = options.reverse ?? false;
  profile.commands.status = options.status ?? 'polled';
  const byHand = new Set(options.byHand ?? []);
  const log: Logged[] = [];
  const visited = new Set<string>();
  const running = new Set<string>();
  const pending: Desk['pending'] = { keep: [], mark: [], develop: [], recall: [], job: [] };
  const seen: Desk['seen'] = {
    coil: [],
    bodies: [],
    tails: [],
    fed: [],
    marks: [],
    kept: [],
    lamp: [],
    motor: [],
    paperMm: 0,
    newRolls: 0,
    rollUsedMm: 0,
    durable: [],
    undone: [],
  };
  const fails = (what: NonNullable<DeskOptions['throws']>[number]) => {
    if (options.throws?.includes(what)) throw new Error(`no ${what}`);
  };
  const begun = (name: string, stop: Undo = () => {}): Undo => {
    running.add(name);
    return () => {
      if (running.delete(name)) seen.undone.push(name);
      stop();
    };
  };

  let button: (said: ButtonSaid) => void = () => {};
  let webcam: (said: WebcamSaid) => void = () => {};
  let album: (said: AlbumSaid) => void = () => {};
  let engine: (said: EngineSaid) => void = () => {};
  let supply: (said: SupplySaid) => void = () => {};
  const watchers = new Set<(frame: Frame) => void>();
  let condition = fine;
  let sequence = 0;

  const frames = () => {
    const startUs = clock.nowUs();
    const number = sequence++;
    clock.after(20_000, () => {
      for (const heard of [...watchers]) heard(frameAt(startUs, number));
    });
    clock.after(options.framePeriodUs ?? 33_333, frames);
  };
  /** A part's answer after a while, or by hand; undone, it never comes. */
  const answer = <Said>(
    part: 'keep' | 'mark' | 'develop' | 'recall',
    afterUs: number,
    well: () => Said,
    heard: (said: Said | Failed) => void,
    hold: (heard: (said: Said | Failed) => void) => void,
  ): Undo => {
    fails(part);
    const done = (said: Said | Failed) => {
      running.delete(part);
      heard(said);
    };
    if (byHand.has(part)) {
      hold(done);
      return () => {};
    }
    return clock.after(afterUs, () =>
      done(options.failing?.[part] ? { kind: 'failed', why: `${part} fails` } : well()),
    );
  };

  const job = (kind: 'body' | 'tail' | 'feed', shot: number, lines: number, heard: (said: JobSaid) => void): Undo => {
    fails(kind);
    if (byHand.has('job')) {
      pending.job.push({ kind, shot, lines, answer: heard });
      return begun(kind);
    }
    const stops: Undo[] = [];
    const over = (said: JobSaid) => {
      cutJob = () => {};
      running.delete(kind);
      for (const stop of stops) stop();
      heard(said);
    };
    if (options.jobsStopWhenTroubled) {
      cutJob = () => over({ kind: 'stopped', paperLines: 7 });
      if (troubled()) stops.push(clock.after(0, () => cutJob()));
    }
    stops.push(clock.after(50_000, () => heard({ kind: 'progress', lines: 1, ofLines: lines })));
    stops.push(clock.after(90_000, () => heard({ kind: 'progress', lines: 2, ofLines: lines })));
    stops.push(
      clock.after(kind === 'body' ? 1_500_000 : 300_000, () => {
        if (kind === 'body') seen.bodies.push(shot);
        if (kind === 'tail') seen.tails.push(shot);
        if (kind === 'feed') seen.fed.push(lines);
        over({ kind: 'done', paperLines: lines });
      }),
    );
    return begun(kind, () => {
      cutJob = () => {};
      for (const stop of stops) stop();
    });
  };
  let inHand = 0;
  let cutJob = () => {};
  const troubled = () => Object.entries(condition).some(([name, holds]) => holds && name !== 'nearEnd');

  const machine = startMachine({
    rig: {
      clock,
      button: {
        listen(heard) {
          fails('button');
          button = heard;
          return begun('button', () => {
            button = () => {};
          });
        },
      },
      shutter: options.shutter?.(clock) ?? {
        energise() {
          if (options.coilFails?.()) throw new Error('no current');
          seen.coil.push({ onUs: clock.nowUs(), offUs: null });
        },
        release() {
          fails('release');
          const last = seen.coil.at(-1);
          if (last && last.offUs === null) last.offUs = clock.nowUs();
        },
      },
      webcam: {
        open(heard) {
          fails('webcam');
          webcam = heard;
          return begun('webcam');
        },
        watch(heard) {
          fails('watch');
          watchers.add(heard);
          return begun('watch', () => watchers.delete(heard));
        },
      },
      darkroom: {
        develop(_frame, { shot }, heard) {
          const stop = answer<DarkroomSaid>(
            'develop',
            200_000,
            () => ({ kind: 'developed', dots: someDots }),
            said => {
              inHand = shot;
              heard(said);
            },
            held => pending.develop.push({ shot, answer: held }),
          );
          return begun('develop', stop);
        },
      },
      lamp: {
        show(pattern) {
          fails('lamp');
          seen.lamp.push(pattern.name);
        },
      },
      motor: {
        drive(direction) {
          fails('motor');
          seen.motor.push(direction);
        },
      },
      album: {
        open(heard) {
          fails('album');
          album = heard;
          return begun('album');
        },
        keep(shot, _frame, about, heard) {
          options.onKeep?.(about);
          answer<KeepSaid>(
            'keep',
            30_000,
            () => {
              seen.kept.push(shot);
              return { kind: 'kept' };
            },
            heard,
            held => pending.keep.push({ shot, answer: held }),
          );
        },
        mark(shot, mark, heard) {
          answer<KeepSaid>(
            'mark',
            5000,
            () => {
              seen.durable.push([shot, mark]);
              return { kind: 'kept' };
            },
            heard,
            held => pending.mark.push({ shot, mark, answer: held }),
          );
          seen.marks.push([shot, mark]);
        },
        keepDots() {},
        recall(shot, heard) {
          const stop = answer<RecallSaid>(
            'recall',
            20_000,
            () => ({ kind: 'recalled', frame: frameAt(0), about: { takenAtMs: null, pressToFrameUs: 0 } }),
            heard,
            held => pending.recall.push({ shot, answer: held }),
          );
          return begun('recall', stop);
        },
        paperUsed(mm, newRoll) {
          seen.paperMm += mm;
          if (newRoll) seen.newRolls++;
        },
      },
      supply: {
        listen(heard) {
          fails('supply');
          supply = heard;
          return begun('supply');
        },
      },
    },
    engine: {
      open(heard) {
        fails('engine');
        engine = heard;
        return begun('engine');
      },
      printBody: (_dots, heard) => job('body', inHand, 600, heard),
      printTail: (shot, heard) => job('tail', shot, 120, heard),
      feed: (lines, heard) => job('feed', 0, lines, heard),
      restUs: options.restUs ?? (() => 0),
      ...(options.coilWaitUs ? { coilWaitUs: options.coilWaitUs } : {}),
    },
    config,
    profile,
    roll: {
      used(mm) {
        seen.rollUsedMm += mm;
      },
      newRoll() {},
      leftMm: () => 9000,
      picturesLeft: options.picturesLeft ?? (() => 100),
      nearEnd: () => (options.picturesLeft?.() ?? 100) <= 5,
    },
    log: (event, fields) => void log.push({ event, atUs: clock.nowUs(), fields } as Logged),
    onTransition(states) {
      for (const [region, state] of Object.entries(states)) visited.add(`${region} ${state}`);
    },
    pictureMm: 78,
    ...options.machine,
  });

  const desk: Desk = {
    clock,
    config,
    machine,
    log,
    lines: event => log.filter(line => line.event === event).map(line => line.fields) as never,
    visited,
    run: ms => clock.runUntil(clock.nowUs() + ms * 1000),
    contact: down => button({ kind: 'level', down, atUs: clock.nowUs() }),
    press(heldMs = 60) {
      desk.contact(true);
      desk.run(heldMs);
      desk.contact(false);
      desk.run(config.button.settleMs + 1);
    },
    say: {
      webcam: said => webcam(said),
      album: said => album(said),
      engine: said => engine(said),
      condition(change) {
        condition = { ...condition, ...change };
        engine({ kind: 'condition', condition });
        if (troubled()) cutJob();
      },
      supply: said => supply(said),
      frame(frame) {
        for (const heard of [...watchers]) heard(frame);
      },
    },
    pending,
    seen,
    coilOn: () => seen.coil.at(-1)?.offUs === null,
    running,
  };
  if (!byHand.has('frames')) frames();
  if (!byHand.has('start')) {
    desk.say.album({ kind: 'opened', pending: [], nextShot: 1, paperUsedMm: 0 });
    desk.say.condition({});
    desk.run(10);
    desk.say.webcam({ kind: 'ready' });
    desk.run(10);
  }
  return desk;
};
