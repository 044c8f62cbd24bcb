import type { Profile } from '../config/profile.ts';
import type { Config } from '../config/schema.ts';
import type { Clock, Undo } from '../parts/clock.ts';
import type { Dots } from '../parts/darkroom.ts';
import type { EngineSaid, JobSaid, PrintEngine, PrinterCondition } from '../parts/engine.ts';
import type { Printer, PrinterSaid } from '../parts/printer.ts';
import { createHeadAccount } from './account.ts';
import { headAmpsAtMost, motorLineUs, powerOf } from './head.ts';
import { type Imprint, plainGapLines } from './imprint.ts';
import { createInquiry } from './inquiry.ts';
import { wake, wakeUs } from './language.ts';
import { planSheet, type Sheet } from './plan.ts';
import { createPlanner, type Plan, type Situation } from './planner.ts';
import { createRunner, type Run } from './runner.ts';
import { blocks, conditionOf, sameCondition } from './status.ts';
import { planAsk, planFit } from './upkeep.ts';
import { drainUs, wireOf } from './wire.ts';

export interface EngineSetup {
  clock: Clock;
  printer: Printer;
  profile: Profile;
  config: Config;
  /** What a strip is found again by, above and below each picture; null prints nothing beside the picture. */
  imprint: Imprint | null;
}

/** What only the workshop asks of a printer. */
export interface TriedEngine extends PrintEngine {
  /** Prints what was planned for its situation; afterwards the printer may stand anywhere. */
  printPlan(plan: (situation: Situation) => Plan, heard: (said: JobSaid) => void): Undo;
}

interface Job {
  plan(): Plan;
  /** Whether it may have to wait for a cooler head. */
  heats: boolean;
  /** It leaves the printer anywhere, on purpose. */
  unsettles?: boolean;
  heard(said: JobSaid): void;
}

/** One thing at a time: a job, or (job null) something the engine does for itself. */
interface Doing {
  job: Job | null;
  run: Run | null;
  /** Dot lines moved by runs that are over. */
  lines: number;
  /** The printer couldn't print at some time since it was begun, for all that is known. */
  doubtful: boolean;
}

/** Part by which a printer may be slower than its numbers. */
const slownessBorne = 0.03;
/** What a stop may last beyond working off the buffer, twice over. */
const holdMarginUs = 1_000_000;
/** How often a printer at rest is asked; one that can't print is asked more often. */
const askIdleUs = 2_000_000;
const askBlockedUs = 1_000_000;
/** Nothing is begun on an older word than this: what stands still since then would lose what it is sent. */
const freshUs = 250_000;

/** Does one thing at a time: makes a printer fit that was found or left in the midst of a job, asks for its status, does a job. */
export const createPrintEngine = ({ clock, printer, profile, config, imprint }: EngineSetup): TriedEngine => {
  const wire = wireOf(profile, config.printer);
  const power = powerOf(profile, config.supply);
  const runner = createRunner(clock, printer, wire, holdMarginUs + 2 * drainUs(profile));
  const head = createHeadAccount(clock, profile);
  // A file takes every byte and says nothing.
  const answers = profile.commands.status !== 'none' && config.printer.link !== 'file';
  /** It says how it is only when it is asked. */
  const polled = answers && profile.commands.status === 'polled';
  /** Nobody says stop: what has no room in its buffer is lost. */
  const overruns = config.printer.link === 'serial' && config.printer.flow === 'none';
  const tearLines = Math.round(profile.tearMm * profile.dotsPerMm);

  const situation = (): Situation => ({ profile, power, wire, aboveK: head.aboveK() });

  let heard: (said: EngineSaid) => void = () => {};
  let told: PrinterCondition | null = null;
  /** The wire is gone; there, but nothing is known of the printer; or all is known that can be. */
  let presence: 'gone' | 'waking' | 'there' = 'gone';
  /** Whether the printer stands between commands, initialised; `known`: but for the bytes of `missing`, row by row. */
  let fit: 'yes' | 'known' | 'unknown' = 'unknown';
  let missing: number[] = [];
  let cutShort = false;
  let stuck = false;
  /** What was sent before is over then. */
  let quietUntilUs = 0;
  let sentUs = Number.NEGATIVE_INFINITY;
  let fedSinceUs = 0;
  let doing: Doing | null = null;
  let waiting: Job | null = null;
  let stopTimer: Undo = () => {};

  const after = (us: number, then: () => void) => {
    stopTimer();
    // Whole microseconds, rounded up: a time that is not quite over must not come round again at once.
    stopTimer = clock.after(Math.ceil(us), then);
  };

  // — what is known of the printer —
  const inquiry = createInquiry(clock, answers, {
    changed: () => reconsider(),
    fed(feeding) {
      const heldUs = clock.nowUs() - fedSinceUs;
      fedSinceUs = clock.nowUs();
      if (feeding) heard({ kind: 'fed', feeding });
      else heard({ kind: 'fed', feeding, paperLines: Math.round(heldUs / motorLineUs(profile)) });
    },
    flow: held => hold(held),
    spoke: () => {
      // It may have been without power meanwhile.
      fit = 'unknown';
    },
  });
  const condition = (): PrinterCondition =>
    conditionOf({ ...inquiry.flags, offLine: inquiry.flags.offLine || stuck }, presence === 'gone' || inquiry.silent);
  const reconsider = () => {
    if (presence === 'waking') return;
    const now = condition();
    const before = told;
    if (!before || !sameCondition(before, now)) {
      told = now;
      heard({ kind: 'condition', condition: now });
    }
    if (doing && blocks(now)) doing.doubtful = true;
    if (blocks(now)) return stopJobs();
    if (before && blocks(before)) quietUntilUs = Math.max(quietUntilUs, clock.nowUs() + drainUs(profile));
    next();
  };
  const released = () => {
    if (!stuck) return;
    stuck = false;
    // It stood still before anything was known of it: begin with that again.
    if (presence === 'waking') next();
    else reconsider();
  };
  const hold = (held: boolean) => {
    runner.hold(held);
    if (!held) released();
  };

  // — one thing after the other —
  const stopJobs = () => {
    const stopped: [Job, number][] = [];
    if (doing?.job) stopped.push([doing.job, doing.lines + (doing.run?.lines() ?? 0)]);
    if (doing?.job) abandon();
    if (waiting) stopped.push([waiting, 0]);
    waiting = null;
    next();
    for (const [job, paperLines] of stopped) job.heard({ kind: 'stopped', paperLines });
  };
  /** Leaves what is being done; what was sent still runs out. */
  const abandon = () => {
    if (!doing) return;
    const { run, job } = doing;
    cutShort ||= job !== null;
    doing = null;
    stopTimer();
    inquiry.forget();
    if (!run) {
      // All of it was sent, but a printer that stopped before its end lost what didn't fit its buffer.
      if (job && blocks(condition())) fit = 'unknown';
      return;
    }
    const left = run.stop();
    head.heatedBy(null);
    missing = left.missing;
    quietUntilUs = clock.nowUs() + left.overUs;
    const sure = fit === 'yes' && presence === 'there' && !blocks(condition());
    fit = sure ? 'known' : 'unknown';
  };
  const send = (own: Doing, plan: Plan, then: () => void) => {
    const { job } = own;
    sentUs = clock.nowUs();
    own.run = runner.run(plan, {
      asked: inquiry.asked,
      progress: lines => job?.heard({ kind: 'progress', lines, ofLines: Math.max(lines, plan.lines) }),
      done() {
        head.heatedBy(null);
        own.run = null;
        own.lines += plan.lines;
        sentUs = clock.nowUs();
        then();
      },
      stuck() {
        head.heatedBy(null);
        doing = null;
        inquiry.forget();
        stuck = true;
        fit = 'unknown';
        cutShort ||= job !== null;
        const paperLines = own.lines + (own.run?.lines() ?? 0);
        reconsider();
        job?.heard({ kind: 'stopped', paperLines });
      },
    });
    head.heatedBy(own.run);
  };
  /** Wakes a printer that has gone to sleep by itself. */
  const awake = (own: Doing, then: () => void) => {
    const sleepsUs = profile.quirks.sleepsAfterS * 900_000;
    if (sleepsUs === 0 || clock.nowUs() - sentUs < sleepsUs) return then();
    printer.write(wake());
    sentUs = clock.nowUs();
    after(wakeUs + Math.ceil(wire.byteUs), () => doing === own && then());
  };
  /** Asks for everything and waits for the answers; says whether all came. */
  const ask = (own: Doing, then: (answered: boolean) => void) => {
    if (!answers) return then(true);
    const blocked = told !== null && blocks(told);
    const plan = planAsk(situation(), blocked && overruns && fit === 'unknown' ? null : missing, blocked);
    missing = [];
    send(own, plan, () => inquiry.settled(answered => doing === own && then(answered)));
  };
  const begin = (job: Job | null): Doing => {
    stopTimer();
    doing = { job, run: null, lines: 0, doubtful: false };
    return doing;
  };
  const attend = () => {
    const own = begin(null);
    awake(own, () => {
      ask(own, answered => {
        doing = null;
        // It may be without power: what is sent to it before it answers again is for nothing, and so is its fitness.
        if (!answered) fit = 'unknown';
        next();
      });
    });
  };
  const makeFit = () => {
    const own = begin(null);
    // One that didn't say just now that it is well may stand still, drop all of this, and go on just before the question
    // (or, with automatic status, give an answer of its own accord then). So it is made fit once more after its word.
    const heardOf = polled ? clock.nowUs() - inquiry.saidUs <= freshUs : presence !== 'waking';
    own.doubtful = answers && overruns && !heardOf;
    awake(own, () => {
      const plan = planFit(situation(), fit === 'known' ? missing : null, cutShort);
      missing = [];
      send(own, plan, () =>
        ask(own, answered => {
          doing = null;
          // A printer that can't print may have dropped what should have made it fit.
          if (answered && !own.doubtful && !blocks(condition())) {
            fit = 'yes';
            cutShort = false;
          }
          if (!answered || presence !== 'waking') return next();
          presence = 'there';
          reconsider();
        }),
      );
    });
  };
  const print = (job: Job, plan: Plan) => {
    const own = begin(job);
    const fromK = head.aboveK();
    const beganUs = clock.nowUs();
    // The printer's own word that nothing went wrong up to the last line. Without it nothing is known: it may have lost
    // its power on the way, and what it was sent.
    const confirm = () =>
      ask(own, answered => {
        doing = null;
        if (job.heats) head.rose(plan.peakK - fromK);
        if (!answered || job.unsettles) fit = 'unknown';
        cutShort ||= !answered;
        next();
        job.heard({ kind: answered ? 'done' : 'stopped', paperLines: plan.lines });
      });
    /** One a little slower than its numbers has something left to do when they say that it is done. */
    const runOut = () => after((clock.nowUs() - beganUs) * slownessBorne, () => doing === own && confirm());
    awake(own, () => send(own, plan, runOut));
  };
  /** Does what is to be done next, if nothing is being done. */
  const next = () => {
    if (doing || presence === 'gone') return;
    const leftUs = quietUntilUs - clock.nowUs();
    if (leftUs > 0) return after(leftUs, next);
    if (presence === 'waking') {
      if (fit !== 'yes' && !inquiry.silent) return makeFit();
      presence = 'there';
      return reconsider();
    }
    if (blocks(condition())) return answers ? after(askBlockedUs, attend) : undefined;
    if (fit !== 'yes') return makeFit();
    if (!waiting) return answers ? after(askIdleUs, attend) : undefined;
    if (polled && clock.nowUs() - inquiry.saidUs > freshUs) return attend();
    const plan = waiting.plan();
    const coolUs = waiting.heats ? head.waitUs(plan.peakK) : 0;
    if (coolUs > 0) return after(coolUs, next);
    const job = waiting;
    waiting = null;
    print(job, plan);
  };
  const give = (job: Job): Undo => {
    if (waiting || doing?.job) throw new Error('the print engine does one job at a time');
    waiting = job;
    // Of a printer that never answers nobody knows what became of the last picture.
    if (!answers && job.heats && fit === 'yes') fit = 'unknown';
    const stopRefusal = clock.after(0, () => {
      if (waiting !== job) return;
      if (told && blocks(told)) stopJobs();
      else next();
    });
    return () => {
      stopRefusal();
      if (waiting === job) waiting = null;
      if (doing?.job !== job) return;
      abandon();
      next();
    };
  };

  const wireSaid = (said: PrinterSaid) => {
    switch (said.kind) {
      case 'found':
        presence = 'waking';
        fit = 'unknown';
        quietUntilUs = clock.nowUs() + profile.quirks.powerUpMs * 1000;
        return next();
      case 'lost':
        presence = 'gone';
        fit = 'unknown';
        stuck = false;
        runner.lost();
        if (!doing?.job) abandon();
        inquiry.reset();
        stopTimer();
        return reconsider();
      case 'bytes':
        return inquiry.take(said.bytes);
      case 'drained':
        runner.drained();
        return released();
      case 'held':
        return hold(said.held);
      case 'port-status':
        // A printer that answers knows more of itself.
        if (answers) return;
        return inquiry.port(said.paperOut, said.error);
    }
  };

  const sheet = (pages: Sheet['pages'], feedLines: number) => () => planSheet({ pages, feedLines }, situation());
  return {
    open(listener) {
      heard = listener;
      const close = printer.open(wireSaid);
      return () => {
        heard = () => {};
        abandon();
        waiting = null;
        stopTimer();
        inquiry.reset();
        presence = 'gone';
        told = null;
        close();
      };
    },
    printBody(dots: Dots, listener) {
      const pages = imprint ? [imprint.head, dots] : [dots];
      return give({ plan: sheet(pages, 0), heats: true, heard: listener });
    },
    printTail(shot, listener) {
      const plan = imprint ? sheet([imprint.tail(shot)], tearLines) : sheet([], tearLines + plainGapLines);
      return give({ plan, heats: false, heard: listener });
    },
    feed(lines, listener) {
      const plan = () => {
        const planner = createPlanner(situation());
        planner.feed(Math.trunc(lines));
        return planner.plan();
      };
      return give({ plan, heats: false, heard: listener });
    },
    printPlan: (plan, listener) =>
      give({ plan: () => plan(situation()), heats: true, unsettles: true, heard: listener }),
    restUs: head.restUs,
    coilWaitUs: pulseUs => doing?.run?.clearOfUs(headAmpsAtMost(power, true), pulseUs) ?? 0,
  };
};
