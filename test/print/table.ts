import type { Config } from '../../src/config/schema.ts';
import { blackDots } from '../../src/parts/black-dots.ts';
import type { Dots } from '../../src/parts/darkroom.ts';
import { encodeCode128 } from '../../src/print/code128.ts';
import { heatingFor, motorLineUs, powerOf } from '../../src/print/head.ts';
import { createImprint } from '../../src/print/imprint.ts';
import { pace, type Wire } from '../../src/print/pace.ts';
import { planSheet } from '../../src/print/plan.ts';
import { wireOf } from '../../src/print/wire.ts';
import { configOf, createDesk, noise, profileOf } from './desk.ts';

export interface Line {
  widthDots: number;
  bufferBytes: number;
  baud: number;
  flow: Config['printer']['flow'];
}

export const lines: Line[] = [384, 576].flatMap(widthDots =>
  [9600, 19_200, 38_400, 57_600, 115_200, 230_400, 460_800, 1_000_000].flatMap(baud =>
    [256, 512, 1024, 4096].flatMap(bufferBytes =>
      (['none', 'xonxoff', 'rtscts'] as const).map(flow => ({ widthDots, bufferBytes, baud, flow })),
    ),
  ),
);

/** Something like a photograph: tone that comes and goes, noise of dots. */
export const photo = (widthDots: number, rows: number): Dots =>
  noise(widthDots, rows, y => 0.35 + 0.2 * Math.sin(y / 40));

export interface Result extends Line {
  bytesLost: number;
  starved: number;
  /** Rows at which the paper must stand even if every band is heated as slowly as any setting can; 0: physics allows. */
  unavoidable: number;
  /** Bytes on the wire over those of plain raster commands. */
  bytesOverPlain: number;
  printUs: number;
  /** Time of the head and motor alone, or of the wire alone, whichever is longer. */
  limitUs: number;
  /** What both together need at least with this buffer, the paper standing as it may. */
  leastUs: number;
}

/** Prints a picture on the virtual printer over such a line, and reckons what was possible. */
export const measure = (line: Line, rows: number): Result => {
  const { widthDots, bufferBytes, baud, flow } = line;
  const dots = photo(widthDots, rows);
  const part = { profile: { widthDots, bufferBytes }, config: { printer: { baud, flow } } };
  const desk = createDesk(part);
  desk.clock.runUntil(3e6);
  const before = desk.printer.stats();
  const beganUs = desk.clock.nowUs();
  const { end } = desk.finish(heard => desk.engine.printBody(dots, heard));
  if (end.kind !== 'done') throw new Error(`the picture was not printed: ${JSON.stringify(line)}`);
  const after = desk.printer.stats();
  const { paper } = desk.printer;
  if (Buffer.compare(paper.dots(paper.at - rows, paper.at).data, dots.data) !== 0)
    throw new Error(`the paper shows something else: ${JSON.stringify(line)}`);

  const profile = profileOf(part.profile);
  const config = configOf(part.config);
  const power = powerOf(profile, config.supply);
  const wire = wireOf(profile, config.printer);
  const planFor = (over: Wire) => planSheet({ pages: [dots], feedLines: 0 }, { profile, power, wire: over, aboveK: 0 });
  const plan = planFor(wire);
  const unhindered = planFor({
    byteUs: 0.001,
    roomBytes: 1_000_000,
    slowness: 0,
    leadUs: Number.POSITIVE_INFINITY,
  }).steps.filter(step => step.heats);
  const motorUs = Math.round(motorLineUs(profile));
  const slowestUs = 1e6 / (profile.dotsPerMm * profile.motor.slowestMmPerS);
  const blackOf = (row: number) => blackDots(dots.data, row * dots.strideBytes, (row + 1) * dots.strideBytes);
  /** The slowest that a band can be heated: all its rows with one setting, the darkest no slower than the motor bears. */
  const slowest = (black: number[]): number[] => {
    const heatingUs = heatingFor(profile, power, 8, 0);
    let intervalUs = 2550;
    const rowUs = (dotsInRow: number) => Math.max(motorUs, Math.ceil(dotsInRow / 8) * (heatingUs + intervalUs));
    while (intervalUs > 20 && rowUs(Math.max(...black)) > Math.max(slowestUs, motorUs)) intervalUs -= 10;
    return rowUs(Math.max(...black)) > slowestUs ? black.map(() => motorUs) : black.map(rowUs);
  };
  const slowUs: number[] = [];
  for (let from = 0; from < rows; from += 24)
    slowUs.push(...slowest(Array.from({ length: Math.min(24, rows - from) }, (_, y) => blackOf(from + y))));
  let row = 0;
  const timed = plan.steps.map(step => {
    if (!step.heats) return { step, fastUs: step.takesUs, slowUs: step.takesUs };
    return { step, fastUs: unhindered[row].takesUs, slowUs: slowUs[row++] };
  });
  const mechanismUs = timed.reduce((sum, { fastUs }) => sum + fastUs, 0);
  const lastLine = paper.line(paper.at - 1);
  const lastUs = timed.at(-1)?.step.takesUs ?? 0;
  return {
    ...line,
    bytesLost: after.bytesLost - before.bytesLost,
    starved: after.starvedLines - before.starvedLines,
    unavoidable: pace(
      timed.map(one => ({ ...one.step, takesUs: one.slowUs })),
      wire,
    ).starved,
    bytesOverPlain: plan.bytes.length / (Math.ceil(rows / 24) * 8 + rows * dots.strideBytes),
    printUs: lastLine.atUs + lastUs - beganUs,
    limitUs: Math.max(mechanismUs, plan.bytes.length * wire.byteUs),
    leastUs: pace(
      timed.map(({ step, fastUs }) => ({ ...step, takesUs: fastUs })),
      wire,
    ).endUs,
  };
};

/** What every line must hold: nothing lost, and where physics allows no stop within a picture. */
export const holds = (r: Result): boolean =>
  r.bytesLost === 0 && (r.starved === 0 || r.unavoidable > 0) && r.printUs <= 1.02 * Math.max(r.limitUs, r.leastUs);

const situationOf = (widthDots: number, rasterRows: number) => {
  const profile = profileOf({ widthDots, commands: { rasterRows } });
  const config = configOf({ printer: { baud: 230_400 } });
  return { profile, power: powerOf(profile, config.supply), wire: wireOf(profile, config.printer), aboveK: 0 };
};
const plainBytes = (pages: readonly Dots[]): number =>
  pages.reduce((sum, { heightDots, data }) => sum + Math.ceil(heightDots / 24) * 8 + data.length, 0);

/** Bytes of a plan over those of plain raster commands of 24 rows; the printer takes `rasterRows` in one. */
export const bytesOverPlain = (dots: Dots, rasterRows = 24): number =>
  planSheet({ pages: [dots], feedLines: 0 }, situationOf(dots.widthDots, rasterRows)).bytes.length / plainBytes([dots]);

/** The same of a picture as it comes out: marks above it, body, marks and code below it; without the feed to the tear edge. */
export const wholeOverPlain = (dots: Dots): number => {
  const situation = situationOf(dots.widthDots, 24);
  const imprint = createImprint({ widthDots: dots.widthDots, mark: 'SLIP', encode: encodeCode128 });
  const [head, tail] = [imprint.head, imprint.tail(1)];
  const sent = [[head, dots], [tail]].map(pages => planSheet({ pages, feedLines: 0 }, situation).bytes.length);
  return (sent[0] + sent[1]) / plainBytes([head, dots, tail]);
};
