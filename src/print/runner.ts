import type { Clock, Undo } from '../parts/clock.ts';
import type { Printer } from '../parts/printer.ts';
import type { StatusAsk } from './language.ts';
import { pace, type Wire } from './pace.ts';
import type { Plan } from './planner.ts';

/** How far a plan got. */
export interface Run {
  /** Dot lines of paper moved by now, by the model. */
  lines(): number;
  /** Energy given by now, and until when the account goes; each call accounts for what is new. */
  spend(): { joules: number; us: number }[];
  /** Highest head current within the next `aheadUs`, and when lines with more than `amps` are over. */
  clearOfUs(amps: number, aheadUs: number): number;
  /** Sends nothing more; says which bytes the command in hand still wants, row by row, and when what was sent is over. */
  stop(): { missing: number[]; overUs: number };
}

export interface RunHeard {
  asked(asks: readonly StatusAsk[]): void;
  progress(lines: number): void;
  done(): void;
  /** The other end takes nothing any more. */
  stuck(): void;
}

/** Puts planned bytes on the wire at their times. One plan at a time. */
export interface Runner {
  run(plan: Plan, heard: RunHeard): Run;
  /** The other end wants a stop, or goes on. */
  hold(held: boolean): void;
  /** Everything that was written has left. */
  drained(): void;
  /** The wire is gone, and what was on it. */
  lost(): void;
}

const tellEveryUs = 100_000;
/** A wire that doesn't empty for so long is stuck. */
const stuckUs = 4_000_000;
/** A printer that is held by nothing but its buffer may be slower than its numbers by this part of a plan's time. */
const slowestBorne = 0.3;

/**
 * @param longestHoldUs A printer asks for a stop while it works off its buffer; one that does for longer can't print, and
 * what it prints afterwards may have a gap where somebody put new paper in.
 */
export const createRunner = (clock: Clock, printer: Printer, wire: Wire, longestHoldUs: number): Runner => {
  let heldSinceUs: number | null = null;
  let stopStuck: Undo = () => {};
  let emptied = true;
  let current: { shift(byUs: number): void; wait(): void; go(): void; empty(): void; stuck(): void } | null = null;

  const watchHold = () => {
    stopStuck();
    if (heldSinceUs !== null && current) stopStuck = clock.after(longestHoldUs, () => current?.stuck());
  };

  return {
    run(plan, heard) {
      const { steps, bytes } = plan;
      const schedule = pace(steps, wire);
      const { startsUs, writes } = schedule;
      let beganUs = clock.nowUs();
      let next = 0;
      let told = 0;
      let toldUs = Number.NEGATIVE_INFINITY;
      let spentSteps = 0;
      let spentUs = beganUs;
      let stepAt = 0;
      let moved = 0;
      let stopTimer: Undo = () => {};
      let stopFirst: Undo = () => {};
      let over = false;
      let sentBytes = 0;
      let askAt = 0;

      const endOfStep = (k: number) => beganUs + startsUs[k] + steps[k].takesUs;
      /** Walks to the first step that isn't over yet. */
      const lines = () => {
        const nowUs = clock.nowUs();
        while (stepAt < steps.length && endOfStep(stepAt) <= nowUs) moved += steps[stepAt++].lines;
        if (stepAt === steps.length || steps[stepAt].takesUs === 0 || beganUs + startsUs[stepAt] >= nowUs) return moved;
        const part = (nowUs - beganUs - startsUs[stepAt]) / steps[stepAt].takesUs;
        return moved + Math.trunc(steps[stepAt].lines * part);
      };
      const tell = () => {
        const now = lines();
        if (now === told || clock.nowUs() - toldUs < tellEveryUs) return;
        told = now;
        toldUs = clock.nowUs();
        heard.progress(now);
      };
      const finish = () => {
        over = true;
        stopTimer();
        stopFirst();
        stopStuck();
        current = null;
      };
      const complete = () => {
        finish();
        heard.done();
      };
      const conclude = () => {
        stopTimer();
        const leftUs = Math.ceil(beganUs + schedule.endUs - clock.nowUs());
        if (leftUs > 0) stopTimer = clock.after(Math.min(leftUs, tellEveryUs), tick);
        else if (emptied) complete();
        else stopTimer = clock.after(stuckUs, () => own.stuck());
      };
      const tick = () => {
        tell();
        conclude();
      };
      const write = () => {
        const { from, to } = writes[next];
        emptied = false;
        printer.write(bytes.subarray(from, to));
        if (over) return;
        sentBytes = to;
        for (; askAt < steps.length && lastByte[askAt] <= to; askAt++) {
          const { asks } = steps[askAt];
          if (asks) heard.asked(asks);
        }
        next++;
        tell();
        if (!over) schedules();
      };
      const schedules = () => {
        stopTimer();
        if (heldSinceUs !== null) return;
        if (next === writes.length) return conclude();
        const waitUs = beganUs + writes[next].atUs - clock.nowUs();
        stopTimer = clock.after(Math.max(0, waitUs), write);
      };
      const lastByte = new Int32Array(steps.length);
      let sum = 0;
      for (let k = 0; k < steps.length; k++) lastByte[k] = sum += steps[k].bytes;

      const own = {
        shift(byUs: number) {
          beganUs += byUs;
        },
        wait: () => stopTimer(),
        go: () => schedules(),
        empty() {
          if (next < writes.length) return;
          // It left later than reckoned where the other end held it back: what follows is later by as much.
          const lateUs = clock.nowUs() - (beganUs + schedule.arrivedUs);
          // Where the driver obeys XOFF by itself, this is all that is heard of a stop.
          if (lateUs > longestHoldUs + schedule.endUs * slowestBorne) return own.stuck();
          if (lateUs > 0) beganUs += lateUs;
          conclude();
        },
        stuck() {
          finish();
          heard.stuck();
        },
      };
      current = own;
      const firstHeat = steps.findIndex(step => step.heats);
      if (firstHeat >= 0)
        stopFirst = clock.after(Math.ceil(startsUs[firstHeat]), () => {
          toldUs = clock.nowUs();
          told = Math.max(1, lines() + 1);
          heard.progress(told);
        });
      schedules();
      watchHold();

      return {
        lines,
        spend() {
          const nowUs = clock.nowUs();
          const spans: { joules: number; us: number }[] = [];
          for (; spentSteps < steps.length && endOfStep(spentSteps) <= nowUs; spentSteps++) {
            const { takesUs, joules } = steps[spentSteps];
            if (takesUs === 0) continue;
            const idleUs = beganUs + startsUs[spentSteps] - spentUs;
            if (idleUs > 0) spans.push({ joules: 0, us: idleUs });
            spans.push({ joules, us: takesUs });
            spentUs = endOfStep(spentSteps);
          }
          if (spentSteps === steps.length && nowUs > spentUs) {
            spans.push({ joules: 0, us: nowUs - spentUs });
            spentUs = nowUs;
          }
          return spans;
        },
        clearOfUs(amps, aheadUs) {
          let clearUs = clock.nowUs();
          for (let k = stepAt; k < steps.length; k++) {
            if (steps[k].amps <= amps) continue;
            if (beganUs + startsUs[k] >= clearUs + aheadUs) break;
            clearUs = Math.max(clearUs, endOfStep(k));
          }
          return clearUs - clock.nowUs();
        },
        stop() {
          finish();
          let k = 0;
          while (k < steps.length && lastByte[k] <= sentBytes) k++;
          const overUs = k > 0 ? Math.max(0, endOfStep(k - 1) - clock.nowUs()) : 0;
          const missing: number[] = [];
          const inCommand = k > 0 && !steps[k - 1].whole;
          if (k < steps.length && (inCommand || lastByte[k] - sentBytes < steps[k].bytes))
            for (let from = sentBytes; k < steps.length; from = lastByte[k++]) {
              missing.push(lastByte[k] - from);
              if (steps[k].whole) break;
            }
          return { missing, overUs };
        },
      };
    },
    hold(held) {
      const nowUs = clock.nowUs();
      if (held && heldSinceUs === null) {
        heldSinceUs = nowUs;
        current?.wait();
        watchHold();
      } else if (!held && heldSinceUs !== null) {
        current?.shift(nowUs - heldSinceUs);
        heldSinceUs = null;
        stopStuck();
        current?.go();
      }
    },
    drained() {
      emptied = true;
      current?.empty();
    },
    lost() {
      heldSinceUs = null;
      emptied = true;
      stopStuck();
    },
  };
};
