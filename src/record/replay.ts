import { startCamera } from '../camera.ts';
import { createLog } from '../console/log.ts';
import type { RunningMachine } from '../machine/start.ts';
import type { States } from '../machine/states.ts';
import type { Clock } from '../parts/clock.ts';
import type { Imprint } from '../print/imprint.ts';
import type { Entry } from './entry.ts';
import { createPorts, type Deeds, entryInWords, type PortsOptions } from './ports.ts';
import type { RecordingHeader } from './recorder.ts';

/** A clock that goes from deadline to deadline. */
export interface ReplayClock extends Clock {
  /** Fires the next timer, if one is due by `latestUs`; says whether it did. */
  step(latestUs: number): boolean;
  runUntil(untilUs: number): void;
  stepWall(byMs: number): void;
}

/** Where a run first went another way than its recording. */
export interface Divergence {
  /** Line of the recording, or of the log; null where none belongs to it. */
  line: number | null;
  /** Time since the start of that life, µs. */
  atUs: number;
  expected: string;
  came: string;
}

export interface ReplayOptions extends Pick<PortsOptions, 'developAgain'> {
  header: RecordingHeader;
  /** A clock at 0 whose wall time is the header's. */
  clock: ReplayClock;
  imprint: Imprint | null;
  /** Each line of the log as the camera writes it now. */
  onLog(line: string): void;
  onTransition?(states: States): void;
  /** Each input at its moment, before it is delivered. */
  onInput?(entry: Entry): void;
  deeds?: Deeds;
}

export interface Replay {
  /** The next input; it is delivered once it is known what follows. */
  take(line: number, entry: Entry): void;
  /** Nothing follows in this life; timers still fire until `untilUs`. */
  end(untilUs?: number): void;
  readonly divergence: Divergence | null;
  readonly inputs: number;
  readonly sentBytes: number;
}

/** Nothing that is asked for takes longer than this; only the end of the recording leaves it unanswered. */
const longestAnswerUs = 60_000_000;

/** Puts one life of a recording through the camera again. */
export const createReplay = (options: ReplayOptions): Replay => {
  const { header, clock } = options;
  /** What comes next; only the first can be an input under way, refusals behind it belong to what it sets off. */
  const queue: { line: number; entry: Entry }[] = [];
  let deliverable = 0;
  let inputs = 0;
  let lastLine: number | null = null;
  let divergence: Divergence | null = null;

  const differs = (expected: string, came: string, line = lastLine) => {
    divergence ??= { line, atUs: clock.nowUs(), expected, came };
  };
  const ports = createPorts({
    ...options,
    shutterSays: header.shutterSays,
    differs,
    refusal(part, call) {
      const entry = queue[0]?.entry;
      if (!entry || !('kind' in entry) || entry.kind !== 'threw') return null;
      if (entry.part !== part || entry.t !== clock.nowUs() || entry.call !== call()) return null;
      queue.shift();
      return entry.why;
    },
  });
  const log = createLog({
    clock,
    level: header.config.log.level,
    startedMonoUs: header.startedMonoUs,
    destination: { write: options.onLog },
  });
  let camera: RunningMachine | null = null;
  /** Started only once it is known what follows: a part may have refused at the very start. */
  const start = () => {
    if (camera) return;
    camera = startCamera({
      rig: ports.rig,
      config: header.config,
      profile: header.profile,
      log,
      imprint: options.imprint,
      onTransition: options.onTransition,
      onBroken: error => differs('the machine goes on', `it broke: ${(error as Error)?.message ?? error}`),
    });
    options.onTransition?.(camera.states());
  };

  const isNote = (entry: Entry) => 'kind' in entry && entry.kind === 'threw';
  const deliver = (entry: Entry) => {
    if (entry.part === 'service') {
      const { t: _, part: __, ...input } = entry;
      return camera?.send(input);
    }
    if (entry.part !== 'clock') return ports.say(entry);
    if (entry.kind === 'end') return;
    clock.stepWall(entry.stepMs);
    log('clock-step', { stepMs: entry.stepMs });
  };
  const next = () => {
    start();
    const head = queue[0];
    const { line, entry } = head;
    while (!divergence && queue[0] === head && clock.step(entry.t));
    if (divergence || queue[0] !== head) return;
    lastLine = line;
    if (isNote(entry)) return differs(entryInWords(entry), 'nothing was asked of it');
    clock.runUntil(entry.t);
    queue.shift();
    deliverable--;
    inputs++;
    options.onInput?.(entry);
    deliver(entry);
  };

  return {
    take(line, entry) {
      if (divergence) return;
      queue.push({ line, entry });
      if (!isNote(entry)) deliverable++;
      while (!divergence && deliverable > 1) next();
    },
    end(untilUs = 0) {
      start();
      while (!divergence && queue.length > 0) next();
      while (!divergence && clock.step(untilUs));
      const late = ports.open().find(({ askedUs }) => clock.nowUs() - askedUs > longestAnswerUs);
      if (late)
        differs(
          `nothing that takes longer than ${longestAnswerUs / 1e6} s`,
          `'${late.call}' was asked for and is never answered`,
          null,
        );
      camera?.stop();
    },
    get divergence() {
      return divergence;
    },
    get inputs() {
      return inputs;
    },
    get sentBytes() {
      return ports.sentBytes;
    },
  };
};
