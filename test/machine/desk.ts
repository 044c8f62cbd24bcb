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

export const someDots: Dots = { widthDots: 8, heightDots: 2, strideBytes: 1, data: Uint8Array.of(0xf0, 0x00) };

export type Logged = { [E in EventName]: { event: E; atUs: number; fields: FieldsOf<E> } }[EventName];

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
  /** Answers after a while unless the part is answered for by hand or undone. */
  const later = <Said>(
    part: 'keep' | 'mark' | 'develop' | 'recall',
    afterUs: number,
    answer: () => void,
    hold: (a: (said: Said) => void) => void,
    heard: (said: Said) => void,
  ): Undo => {
    if (!byHand.has(part)) return clock.after(afterUs, answer);
    hold(heard);
    return () => {};
  };

  const job = (kind: 'body' | 'tail' | 'feed', shot: number, lines: number, heard: (said: JobSaid) => void): Undo => {
    fails(kind);
    if (byHand.has('job')) {
      pending.job.push({ kind, shot, lines, answer: heard });
      return begun(kind);
    }
    const stops: Undo[] = [];
    stops.push(clock.after(50_000, () => heard({ kind: 'progress', lines: 1, ofLines: lines })));
    stops.push(clock.after(90_000, () => heard({ kind: 'progress', lines: 2, ofLines: lines })));
    stops.push(
      clock.after(kind === 'body' ? 1_500_000 : 300_000, () => {
        running.delete(kind);
        if (kind === 'body') seen.bodies.push(shot);
        if (kind === 'tail') seen.tails.push(shot);
        if (kind === 'feed') seen.fed.push(lines);
        heard({ kind: 'done', paperLines: lines });
      }),
    );
    return begun(kind, () => {
      for (const stop of stops) stop();
    });
  };
  let inHand = 0;

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
          fails('develop');
          inHand = shot;
          return begun(
            'develop',
            later<DarkroomSaid>(
              'develop',
              200_000,
              () => {
                running.delete('develop');
                heard({ kind: 'developed', dots: someDots });
              },
              answer => pending.develop.push({ shot, answer }),
              heard,
            ),
          );
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
          fails('keep');
          options.onKeep?.(about);
          later<KeepSaid>(
            'keep',
            30_000,
            () => {
              seen.kept.push(shot);
              heard({ kind: 'kept' });
            },
            answer => pending.keep.push({ shot, answer }),
            heard,
          );
        },
        mark(shot, mark, heard) {
          fails('mark');
          seen.marks.push([shot, mark]);
          later<KeepSaid>(
            'mark',
            5000,
            () => heard({ kind: 'kept' }),
            answer => pending.mark.push({ shot, mark, answer }),
            heard,
          );
        },
        keepDots() {},
        recall(shot, heard) {
          fails('recall');
          return begun(
            'recall',
            later<RecallSaid>(
              'recall',
              20_000,
              () => {
                running.delete('recall');
                heard({ kind: 'recalled', frame: frameAt(0), about: { takenAtMs: null, pressToFrameUs: 0 } });
              },
              answer => pending.recall.push({ shot, answer }),
              heard,
            ),
          );
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
