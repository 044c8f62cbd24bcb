import type { Profile } from '../src/config/profile.ts';
import type { Config } from '../src/config/schema.ts';
import type { Paper } from './paper/paper.ts';
import type { FaultSpan } from './play.ts';
import { dutyWindowUs } from './shutter.ts';
import { type PaperFind, readStamps } from './stamp.ts';
import { readStrokes, type Shot, type Span, settledPresses, spansOf } from './strokes.ts';
import type { Traces } from './traces.ts';

/** A promise that didn't hold. */
export interface Violation {
  promise:
    | 'coil'
    | 'motor'
    | 'frame'
    | 'lost'
    | 'twice'
    | 'mark'
    | 'overrun'
    | 'starved'
    | 'heat'
    | 'supply'
    | 'stuck'
    | 'console'
    | 'crash';
  atUs: number;
  what: string;
}

/** Counts of the printer at a moment. */
export interface PrinterSample {
  atUs: number;
  bytesLost: number;
  headC: number;
}

/** What a party left behind: traces of the parts and the paper. Nothing in it is the program's word. */
export interface Evidence {
  config: Config;
  profile: Profile;
  traces: Traces;
  paper: Paper;
  endUs: number;
  faults: readonly FaultSpan[];
  samples: readonly PrinterSample[];
  /**
   * Which pictures were developed under which number: number → ms of exposure. Where the album couldn't be read, a
   * picture that isn't kept either may bear a number that another has.
   */
  numbered: ReadonlyMap<number, ReadonlySet<number>>;
  /** Pictures that lie whole in the album's folder at the end: ms of exposure. */
  kept: ReadonlySet<number>;
  /** The number that a line of ink carries as a code, if it does. */
  codeIn(dots: Uint8Array): number | null;
  /** Everything has been healed, printed and is at rest: what was acknowledged must be on paper. */
  atRest: boolean;
}

const graceUs = 1000;
/** Timers and kernel may be this late without a stall. */
const overlaps = (a: Span, b: Span) => a.fromUs < b.toUs && b.fromUs < a.toUs;
const seconds = (us: number) => `${(us / 1e6).toFixed(3)} s`;

/**
 * Whether a head that never rests can be fed: ten bits a byte (8N1), a row of bytes for each dot line, 0.7 % for
 * headers. A printer that knows the heat command can be slowed to two thirds. Where the line is slower, nobody promised.
 */
export const lineIsFastEnough = ({ printer }: Config, profile: Profile): boolean => {
  if (printer.link !== 'serial') return true;
  const leastBaud = 10.07 * Math.ceil(profile.widthDots / 8) * profile.dotsPerMm * profile.motor.mmPerS;
  return printer.baud >= leastBaud * (profile.commands.heat === 'panel' ? 2 / 3 : 1);
};

const printerFaults = new Set([
  'paper-out',
  'lid-open',
  'head-hot',
  'printer-unplugged',
  'printer-off',
  'printer-silent',
  'power-cut',
  'brown-out',
  'stall',
  'battery-weak',
]);

const diskFaults = new Set(['disk-failing', 'disk-full', 'disk-read-only']);
/** Steps that are to fail wait for the next step; a party writes something at least this often. */
const liesInWaitUs = 5_000_000;

const isPowerless = ({ fault }: FaultSpan) => fault === 'power-cut' || fault === 'brown-out';

const judgeCoil = ({ config, traces, endUs, faults }: Evidence): Violation[] => {
  const found: Violation[] = [];
  const pulses = spansOf(traces.of('coil'), endUs);
  const stalls = faults.filter(({ fault }) => fault === 'stall');
  const stalled = (span: Span) => stalls.some(stall => overlaps(stall, span));
  for (const pulse of pulses) {
    const lengthUs = pulse.toUs - pulse.fromUs;
    const mostUs = (stalled(pulse) ? config.shutter.longestPulseMs : config.shutter.pulseMs) * 1000;
    if (lengthUs > mostUs + graceUs)
      found.push({ promise: 'coil', atUs: pulse.fromUs, what: `on for ${lengthUs} µs, ${mostUs} allowed` });
  }
  let first = 0;
  let onUs = 0;
  for (const pulse of pulses) {
    onUs += pulse.toUs - pulse.fromUs;
    while (pulses[first].toUs < pulse.toUs - dutyWindowUs) onUs -= pulses[first].toUs - pulses[first++].fromUs;
    if (onUs > (dutyWindowUs * config.shutter.dutyPercent) / 100 + (pulses[first].toUs - pulses[first].fromUs))
      found.push({ promise: 'coil', atUs: pulse.fromUs, what: `on for ${onUs} µs within ten seconds` });
  }
  // The strokes of an earlier life are forgotten with it; the coil itself still counts them.
  const powerless = faults.filter(isPowerless);
  const forgetful = (atUs: number) =>
    powerless.some(cut => overlaps(cut, { fromUs: atUs - dutyWindowUs, toUs: atUs + 1 }));
  for (const { atUs, value } of traces.of('coil-limit')) {
    if (!forgetful(atUs) && !stalled({ fromUs: atUs - config.shutter.longestPulseMs * 1000, toUs: atUs + 1 }))
      found.push({ promise: 'coil', atUs, what: `the part's own limit had to act (${value})` });
  }
  return found;
};

const judgeMotor = ({ config, traces, endUs }: Evidence): Violation[] => {
  const sides = [spansOf(traces.of('motor-in'), endUs), spansOf(traces.of('motor-out'), endUs)];
  const all = sides
    .flatMap((spans, side) => spans.map(span => ({ ...span, side })))
    .sort((a, b) => a.fromUs - b.fromUs);
  const found: Violation[] = [];
  const deadUs = config.motor.deadMs * 1000;
  for (const [i, span] of all.entries()) {
    if (span.toUs - span.fromUs > config.motor.travelMs * 1000 + graceUs)
      found.push({ promise: 'motor', atUs: span.fromUs, what: 'driven beyond its travel' });
    const next = all[i + 1];
    if (next && next.side !== span.side && next.fromUs - span.toUs < deadUs)
      found.push({ promise: 'motor', atUs: next.fromUs, what: `reversed after ${next.fromUs - span.toUs} µs` });
  }
  return found;
};

const judgePrinter = ({ profile, config, samples, faults, traces, endUs }: Evidence): Violation[] => {
  const found: Violation[] = [];
  // A printer that was just troubled may still get bytes that were under way.
  const troubled = (span: Span) =>
    faults.some(fault => printerFaults.has(fault.fault) && overlaps({ ...fault, toUs: fault.toUs + 3_000_000 }, span));
  for (let i = 1; i < samples.length; i++) {
    const [before, now] = [samples[i - 1], samples[i]];
    const lost = now.bytesLost - before.bytesLost;
    if (lost > 0 && !troubled({ fromUs: before.atUs, toUs: now.atUs }))
      found.push({ promise: 'overrun', atUs: now.atUs, what: `${lost} bytes lost in the printer's buffer` });
    if (now.headC > profile.head.hotC + 3 && !troubled({ fromUs: before.atUs, toUs: now.atUs }))
      found.push({ promise: 'heat', atUs: now.atUs, what: `the head is at ${now.headC.toFixed(1)} °C` });
  }
  const weak = faults.filter(({ fault }) => fault === 'battery-weak');
  for (const { atUs, value } of traces.of('supply')) {
    if (Number(value) < config.supply.floorVolts && !weak.some(span => atUs >= span.fromUs && atUs <= span.toUs))
      found.push({ promise: 'supply', atUs, what: `sagged to ${value} V` });
  }
  return found.slice(0, 20).filter(({ atUs }) => atUs <= endUs);
};

/** A picture on paper with the tail that closes it. */
interface Closed {
  takenMs: number;
  shot: number;
  line: number;
}

type Body = Extract<PaperFind, { kind: 'picture' }>;

/**
 * Bodies and the tails that close them. A tail closes the body before it; after the power was gone it may also come
 * later, when other pictures have been printed meanwhile, and then its number says what it closes.
 */
const readClosed = (finds: readonly PaperFind[], evidence: Evidence): { closed: Closed[]; whole: Body[] } => {
  const { paper, profile, codeIn, numbered, faults } = evidence;
  const closed: Closed[] = [];
  const whole: Body[] = [];
  const open: Body[] = [];
  const tearLines = Math.round(profile.tearMm * profile.dotsPerMm);
  const timeOf = ({ from }: { from: number }) => paper.line(from).atUs;
  const powerless = faults.filter(isPowerless);
  const bootedBetween = (fromUs: number, toUs: number) => powerless.some(cut => overlaps(cut, { fromUs, toUs }));
  let last: Body | null = null;
  for (const [i, find] of finds.entries()) {
    if (find.kind === 'picture') {
      last = find.whole ? find : null;
      if (last) {
        whole.push(last);
        open.push(last);
      }
      continue;
    }
    const { dots } = paper.line(find.from + (find.lines >> 1));
    const shot = dots && codeIn(dots);
    if (shot === null) continue;
    const fed = (finds[i + 1]?.from ?? paper.length) - (find.from + find.lines);
    if (fed < tearLines) continue;
    const bears = ({ takenMs }: { takenMs: number }) => numbered.get(shot)?.has(takenMs) === true;
    const isClosed = ({ takenMs }: Body) => closed.some(other => other.takenMs === takenMs);
    // Where the album couldn't be read, two pictures may bear one number: the one that isn't closed yet is meant.
    const named = open.findLast(body => bears(body) && !isClosed(body)) ?? open.findLast(bears);
    // A tail that was printed and not marked so comes once more after a cut, and closes nothing.
    const before = closed.findLast(bears);
    if (!named && before && bootedBetween(paper.line(before.line).atUs, timeOf(find))) continue;
    const late = named !== undefined && !isClosed(named) && bootedBetween(timeOf(named), timeOf(find));
    const body = last && open.includes(last) && (named === last || !late) ? last : late ? named : undefined;
    if (!body) continue;
    closed.push({ takenMs: body.takenMs, shot, line: body.from });
    open.splice(open.indexOf(body), 1);
  }
  return { closed, whole };
};

const judgePictures = (evidence: Evidence, shots: readonly Shot[]): Violation[] => {
  const { paper, numbered, kept, faults, atRest, endUs, config, profile } = evidence;
  const mustNotStarve = lineIsFastEnough(config, profile);
  const found: Violation[] = [];
  const finds = readStamps(paper);
  const { closed, whole } = readClosed(finds, evidence);

  const times = new Map<number, number[]>();
  /**
   * The disk failed for the picture, and for the marks behind it, and the power was gone before it healed: what lies there
   * of a picture that was never acknowledged may be whole all the same, and nothing durable can say that it was printed.
   * Either it comes once more, or one that nobody printed is lost.
   */
  const unmarkable = (takenMs: number, firstUs: number, againUs: number) =>
    !shots.some(({ press, secondUs }) => secondUs !== null && inWindow(takenMs, press.closedUs, secondUs)) &&
    faults.some(
      span => diskFaults.has(span.fault) && overlaps(span, { fromUs: takenMs * 1000 - liesInWaitUs, toUs: firstUs }),
    ) &&
    faults.some(span => isPowerless(span) && overlaps(span, { fromUs: firstUs, toUs: againUs }));
  for (const { takenMs, shot, line } of closed) {
    const before = times.get(takenMs) ?? [];
    const nowUs = paper.line(line).atUs;
    times.set(takenMs, [...before, nowUs]);
    if (before.length === 1 && !unmarkable(takenMs, before[0], nowUs))
      found.push({ promise: 'twice', atUs: paper.line(line).atUs, what: `picture ${shot} is on paper twice` });
    if (!numbered.get(shot)?.has(takenMs))
      found.push({
        promise: 'mark',
        atUs: paper.line(line).atUs,
        what: `the picture of ${takenMs} ms is marked as ${shot}`,
      });
  }
  for (const picture of whole) {
    const { atUs } = paper.line(picture.from);
    const printing: Span = { fromUs: atUs - 500_000, toUs: paper.line(picture.from + picture.lines - 1).atUs + 1 };
    if (picture.white < 250)
      found.push({ promise: 'frame', atUs, what: `the picture is darkened by the blades to ${picture.white}` });
    if (!shots.some(({ press, firstUs }) => inWindow(picture.takenMs, press.closedUs, firstUs + 13_000_000)))
      found.push({
        promise: 'frame',
        atUs,
        what: `nobody pressed for the picture of ${seconds(picture.takenMs * 1000)}`,
      });
    if (
      picture.disturbed &&
      mustNotStarve &&
      !faults.some(span => printerFaults.has(span.fault) && overlaps(span, printing))
    )
      found.push({ promise: 'starved', atUs, what: 'lines are disturbed' });
  }
  if (!atRest) return found;
  for (const { press, secondUs, sure } of shots) {
    if (secondUs === null || !sure) continue;
    const isIts = (takenMs: number) => inWindow(takenMs, press.closedUs, secondUs);
    const lost = (where: string) =>
      found.push({
        promise: 'lost',
        atUs: endUs,
        what: `the picture acknowledged at ${seconds(secondUs)} isn't ${where}`,
      });
    if (!closed.some(({ takenMs }) => isIts(takenMs))) lost('on paper');
    if (![...kept].some(isIts)) lost('in the album');
  }
  return found;
};

/** Exposure times are known to the millisecond. */
const inWindow = (takenMs: number, fromUs: number, toUs: number) =>
  takenMs >= Math.floor(fromUs / 1000) && takenMs * 1000 <= toUs;

export interface Judgement {
  violations: Violation[];
  shots: Shot[];
  /** Pictures on paper, each with its tail. */
  printed: number;
}

/** Holds a party to the promises of the design, by what its parts recorded and what is on paper. */
export const judge = (evidence: Evidence): Judgement => {
  const { config, traces, endUs, faults } = evidence;
  const settled = settledPresses(traces.of('button'), config.button.settleMs * 1000, endUs);
  const busy = spansOf(traces.of('head'), endUs);
  const stalls = faults.filter(({ fault }) => fault === 'stall');
  const mayBeLate = (fromUs: number, toUs: number) => {
    const span = { fromUs, toUs: toUs + 1 };
    if (stalls.some(stall => overlaps({ ...stall, toUs: stall.toUs + 1000 }, span))) return true;
    return toUs - fromUs < 1_100_000 && busy.some(heating => overlaps(heating, span));
  };
  // Where a stall lays two presses on one moment, current for no time at all and the next pulse are one stroke.
  const pulses = spansOf(traces.of('coil'), endUs).filter(
    ({ fromUs, toUs }, i, all) => toUs > fromUs || all[i + 1]?.fromUs !== toUs,
  );
  const strokes = [
    ...pulses.map(({ fromUs }) => ({ atUs: fromUs, sounded: true })),
    ...traces.of('coil-unmoved').map(({ atUs }) => ({ atUs, sounded: false })),
  ].sort((one, other) => one.atUs - other.atUs);
  const { shots, stray } = readStrokes(strokes, settled, mayBeLate);
  const pictures = judgePictures(evidence, shots);
  return {
    violations: [
      ...judgeCoil(evidence),
      ...stray.map((atUs): Violation => ({ promise: 'coil', atUs, what: 'a stroke that answers nothing' })),
      ...judgeMotor(evidence),
      ...judgePrinter(evidence),
      ...pictures,
    ].sort((a, b) => a.atUs - b.atUs),
    shots,
    printed: readClosed(readStamps(evidence.paper), evidence).closed.length,
  };
};
