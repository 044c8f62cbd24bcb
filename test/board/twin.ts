import { createVirtualClock, type VirtualClock } from '../../sim/clock.ts';
import { drawStrip } from '../../sim/paper/draw.ts';
import type { Paper } from '../../sim/paper/paper.ts';
import { mechanismOf } from '../../sim/printer/mechanism.ts';
import { createVirtualPrinter } from '../../sim/printer/printer.ts';
import { chance } from '../../sim/random.ts';
import { createTraces } from '../../sim/traces.ts';
import type { Profile } from '../../src/config/profile.ts';
import type { Dots } from '../../src/parts/darkroom.ts';

/** A host that lets this process wait longer than this makes the printer late, until it has been at rest. */
const lateMs = 20;
const restMs = 300;

/** Longer than a printer takes to come up, and longer than a picture. */
const upUs = 2_000_000;
const throughUs = 60_000_000;

const createPrinter = (profile: Profile, clock: VirtualClock) =>
  createVirtualPrinter({
    clock,
    traces: createTraces(clock.nowUs),
    mechanism: mechanismOf({ ...profile, bufferBytes: 65_536 }),
    // The wire itself took its time already.
    line: { kind: 'serial', baud: 4_000_000, flow: 'none' },
    chance: chance(1),
    traceLines: false,
  });

const bodyOn = (paper: Paper): Dots => {
  const pictures = paper.pictures();
  const { from, to } = pictures[pictures.length - 1];
  const all = paper.dots(from, to);
  const heights = Array.from({ length: to - from }, (_, y) => y);
  const middle = heights.filter(y => blackIn(all, y) > all.widthDots / 4);
  return paper.dots(from + middle[0], from + middle[middle.length - 1] + 1);
};

/**
 * The simulator's printer at the far end of a real wire: it decodes what comes in, prints on virtual paper and answers.
 * Its clock follows the real one.
 */
export const createTwin = (profile: Profile, say: (bytes: Uint8Array) => void) => {
  const clock = createVirtualClock();
  const startedMs = performance.now();
  const printer = createPrinter(profile, clock);
  printer.port.open(said => {
    if (said.kind === 'bytes') say(said.bytes);
  });
  let lastMs = startedMs;
  let movedMs = startedMs;
  let movedTo = 0;
  let behindMs = 0;
  const follow = () => {
    const nowMs = performance.now();
    if (nowMs - lastMs > lateMs) behindMs += nowMs - lastMs;
    lastMs = nowMs;
    clock.runUntil(Math.round((nowMs - startedMs) * 1000));
    if (printer.paper.length !== movedTo) movedMs = nowMs;
    else if (nowMs - movedMs > restMs) behindMs = 0;
    movedTo = printer.paper.length;
  };
  const timer = setInterval(follow, 2);
  return {
    hear(bytes: Uint8Array) {
      follow();
      printer.port.write(bytes);
    },
    control: printer.control,
    paper: printer.paper,
    /** Dots of the last picture, without what is printed in its margins: one that was cut short is printed again. */
    body: (): Dots => bodyOn(printer.paper),
    /** How far the paper may be behind what the wire carried, since the host let this process wait; ms. */
    behindMs: () => behindMs,
    png: (): Uint8Array => drawStrip(printer.paper, 1).png(),
    stats: printer.stats,
    stop: () => clearInterval(timer),
  };
};

/** What a printer that says nothing has made of these bytes, once it is through with them. */
export const paperOf = (profile: Profile, bytes: Uint8Array) => {
  const clock = createVirtualClock();
  const printer = createPrinter(profile, clock);
  printer.port.open(() => {});
  clock.runUntil(upUs);
  printer.port.write(bytes);
  clock.runUntil(upUs + throughUs);
  return { body: () => bodyOn(printer.paper), png: () => drawStrip(printer.paper, 1).png() };
};

const blackIn = ({ data, strideBytes, widthDots }: Dots, y: number): number => {
  let black = 0;
  for (let x = 0; x < widthDots; x++) black += (data[y * strideBytes + (x >> 3)] >> (7 - (x & 7))) & 1;
  return black;
};

/** Share of black in vertical strips of equal width, left to right, over rows below the text that the device writes into its picture. */
export const inkOfColumns = (dots: Dots, columns: number): number[] =>
  Array.from({ length: columns }, (_, column) => {
    const [from, to] = [column + 0.2, column + 0.8].map(at => Math.round((at * dots.widthDots) / columns));
    let black = 0;
    let count = 0;
    for (let y = Math.round(dots.heightDots * 0.6); y < dots.heightDots * 0.9; y++)
      for (let x = from; x < to; x++, count++)
        black += (dots.data[y * dots.strideBytes + (x >> 3)] >> (7 - (x & 7))) & 1;
    return black / count;
  });
