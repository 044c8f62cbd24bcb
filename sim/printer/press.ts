import type { Clock } from '../../src/parts/clock.ts';
import type { PaperUnderHead } from '../paper/paper.ts';
import type { Chance } from '../random.ts';
import type { VirtualSupply } from '../supply.ts';
import type { Traces } from '../traces.ts';
import type { Head, HeatSetting } from './head.ts';
import { blackDots, heatingTimeUs } from './head.ts';
import type { Mechanism } from './mechanism.ts';
import type { Sensors } from './sensors.ts';

type Work =
  | { kind: 'rows'; rows: readonly Uint8Array[]; next: number; times: number; inner: boolean }
  | { kind: 'feed'; lines: number }
  | { kind: 'cut' };

/** Head and motor at work: one step after the other, each with the time that it costs. */
export interface Press {
  readonly idle: boolean;
  /** When the step in hand ends; Infinity when there is none. */
  readonly busyUntilUs: number;
  /** Since when it has been at rest, or null while it works. */
  readonly restingSinceUs: number | null;
  readonly counts: Readonly<{ linesHeated: number; dotsHeated: number; starvedLines: number }>;
  add(work: Work): void;
  /** Takes the next step, or comes to rest; `whole`: nothing unfinished is on its way. */
  proceed(whole: () => boolean): void;
  /** The step in hand is over. */
  finish(): void;
  /** Paper moved by the motor outside any work. */
  travel(lines: number): void;
  /** Power is gone: the step in hand and all work are dropped. */
  drop(): void;
}

export interface PressParts {
  clock: Clock;
  traces: Traces;
  mechanism: Mechanism;
  chance: Chance;
  head: Head;
  heat: () => HeatSetting;
  paper: PaperUnderHead;
  sensors: Sensors;
  supply?: Pick<VirtualSupply, 'volts' | 'draw' | 'internalOhm'>;
  traceLines: boolean;
  /** Told when it begins to work, and when it comes to rest. */
  guest?: { moves(): void; rests(): void };
}

/** Paper that travels without heat is reckoned in pieces of so many lines. */
export const feedPiece = 8;
/** A cutter's stroke; common practice, no source. */
const cutUs = 300_000;

export const createPress = (parts: PressParts): Press => {
  const { clock, traces, mechanism, chance, head, paper, sensors, supply, traceLines } = parts;
  const { motor } = mechanism;
  const motorLineUs = 1e6 / (mechanism.dotsPerMm * motor.mmPerS);
  const counts = { linesHeated: 0, dotsHeated: 0, starvedLines: 0 };

  let work: Work[] = [];
  let busyUntilUs = Number.POSITIVE_INFINITY;
  let finishStep: (() => void) | null = null;
  let restingSinceUs: number | null = 0;
  let restedWhole = true;
  /** End of the last heated line and its dots; null when something came between. */
  let lastRow: { endUs: number; black: number } | null = null;
  let disturbing = 0;
  let travelled = 0;
  let headAmps = 0;
  let headShown = 0;

  const drawCurrent = (dots: number) => {
    if (!supply) return;
    const openVolts = supply.volts() + headAmps * supply.internalOhm;
    headAmps = dots === 0 ? 0 : openVolts / (mechanism.head.elementOhm / dots + supply.internalOhm);
    supply.draw('head', headAmps);
  };
  const showHead = (dots: number) => {
    const shown = traceLines ? dots : Math.min(1, dots);
    if (shown !== headShown) traces.record('head', dots);
    headShown = shown;
  };
  const step = (us: number, finish: () => void) => {
    if (restingSinceUs !== null) parts.guest?.moves();
    restingSinceUs = null;
    busyUntilUs = clock.nowUs() + Math.max(1, Math.round(us * motor.slowness));
    finishStep = finish;
  };
  const travel = (lines: number) => {
    paper.move(lines);
    travelled += lines;
    sensors.use(lines);
    if (traceLines) traces.record('paper', travelled);
  };

  /** A row that comes late into an image finds the paper standing: one to three lines are disturbed. */
  const judgeLateness = (inner: boolean, black: number) => {
    if (!lastRow || clock.nowUs() - lastRow.endUs <= motor.patienceUs) return;
    if (!inner && (lastRow.black === 0 || black === 0)) return;
    counts.starvedLines++;
    disturbing = chance.whole(1, 3);
  };
  const heatRow = (row: Uint8Array, inner: boolean) => {
    const nowUs = clock.nowUs();
    const heat = parts.heat();
    const black = blackDots(row);
    judgeLateness(inner, black);
    drawCurrent(Math.min(black, heat.dotsAtOnce));
    const fromRest = restingSinceUs !== null && nowUs - restingSinceUs > motor.patienceUs;
    const lineUs = Math.max(heatingTimeUs(black, heat) + heat.breakUs, motorLineUs) + (fromRest ? motor.startUs : 0);
    const drive = head.fire(black, lineUs, heat, supply?.volts() ?? mechanism.head.volts, nowUs);
    paper.heat(row, drive, disturbing > 0, !inner && restingSinceUs !== null && restedWhole, nowUs);
    showHead(black);
    if (disturbing > 0) disturbing--;
    counts.linesHeated++;
    counts.dotsHeated += black;
    step(lineUs, () => {
      travel(1);
      lastRow = { endUs: clock.nowUs(), black };
      sensors.checkHeat();
    });
  };
  const feed = (lines: number) => {
    drawCurrent(0);
    showHead(0);
    lastRow = null;
    step(Math.abs(lines) * motorLineUs, () => travel(lines));
  };
  const begin = (now: Work) => {
    if (now.kind === 'rows') {
      const row = now.rows[Math.floor(now.next / now.times)];
      const inner = now.inner || now.next > 0;
      if (++now.next === now.rows.length * now.times) work.shift();
      heatRow(row, inner);
    } else if (now.kind === 'feed') {
      const piece = Math.max(-feedPiece, Math.min(feedPiece, now.lines, Math.ceil(sensors.rollLines)));
      now.lines -= piece;
      if (now.lines === 0) work.shift();
      feed(piece);
    } else {
      work.shift();
      lastRow = null;
      step(cutUs, () => paper.mark('cut', paper.at - paper.tearDots, clock.nowUs()));
    }
  };
  const rest = (whole: boolean) => {
    if (sensors.offLine) lastRow = null;
    if (restingSinceUs !== null) return;
    restingSinceUs = clock.nowUs();
    restedWhole = whole;
    parts.guest?.rests();
    drawCurrent(0);
    showHead(0);
    if (!traceLines) traces.record('paper', travelled);
  };

  return {
    get idle() {
      return finishStep === null && work.length === 0;
    },
    get busyUntilUs() {
      return busyUntilUs;
    },
    get restingSinceUs() {
      return restingSinceUs;
    },
    counts,
    add: now => void work.push(now),
    proceed(whole) {
      if (finishStep) return;
      if (work.length > 0 && !sensors.offLine) begin(work[0]);
      else rest(whole());
    },
    finish() {
      const finish = finishStep;
      finishStep = null;
      busyUntilUs = Number.POSITIVE_INFINITY;
      finish?.();
    },
    travel,
    drop() {
      work = [];
      finishStep = null;
      busyUntilUs = Number.POSITIVE_INFINITY;
      lastRow = null;
      rest(true);
    },
  };
};
