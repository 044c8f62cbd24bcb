import type { Clock, Undo } from '../../src/parts/clock.ts';
import type { Printer, PrinterSaid } from '../../src/parts/printer.ts';
import type { Paper } from '../paper/paper.ts';
import { createPaper } from '../paper/paper.ts';
import type { Chance } from '../random.ts';
import type { VirtualSupply } from '../supply.ts';
import type { Traces } from '../traces.ts';
import { createAnswers } from './answers.ts';
import type { DecoderCounts, Orders } from './decoder.ts';
import { createDecoder } from './decoder.ts';
import { blackDots, createHead, densitySetting, heatingTimeUs, startingHeat } from './head.ts';
import type { Mechanism } from './mechanism.ts';
import { createAskScanner, createReceiveBuffer, mayAskAt } from './receive.ts';
import type { Senses } from './status.ts';
import { automaticStatus, isOffLine, statusNow } from './status.ts';
import { byteUsAt, createWire } from './wire.ts';

export type Flow = 'none' | 'xonxoff' | 'rtscts';

/** The cable, and what hangs on its two ends. */
export interface Line {
  /** USB has no speed of its own and never loses a byte: a full printer lets the host wait. */
  kind?: 'serial' | 'usb';
  baud: number;
  /** What this end obeys. */
  flow: Flow;
  /** What the printer signals; as this end obeys unless told otherwise. */
  printerFlow?: Flow;
  /** Bytes in the sending chip, which neither XOFF nor `discard` reaches; common for such chips, from memory. */
  chipBytes?: number;
}

export interface PrinterControl {
  /** The sensor sees no paper, whatever is there. */
  paperOut(on: boolean): void;
  nearEnd(on: boolean): void;
  lid(open: boolean): void;
  /** Its own sensor calls the head hot, whatever the model says. */
  hot(on: boolean): void;
  ambient(celsius: number): void;
  /** The host sees the port vanish; what is in the printer's buffer is still printed. */
  unplug(why?: string): void;
  replug(): void;
  /** It answers nothing any more, and prints on. */
  silent(on: boolean): void;
  /** Without power, bytes go nowhere and its buffer is empty; with it again it boots. */
  power(on: boolean): void;
  /** A new roll of so many millimetres under the head. */
  loadRoll(mm: number): void;
  /** Somebody tears the strip off at the edge. */
  tear(): void;
  /** Its own feed button. */
  feedButton(down: boolean): void;
  jamCutter(on: boolean): void;
  /** An error that only power heals. */
  break(): void;
  /** Bytes that it says out of turn. */
  says(bytes: readonly number[]): void;
}

export interface PrinterStats extends DecoderCounts {
  bytesReceived: number;
  /** Into a full buffer, or while it booted or woke up. */
  bytesLost: number;
  /** How often an image stood still because its next row was late. */
  starvedLines: number;
  linesHeated: number;
  dotsHeated: number;
  /** Most bytes that the receive buffer ever held. */
  peakStored: number;
  headJoules: number;
}

export interface VirtualPrinter {
  port: Printer;
  control: PrinterControl;
  paper: Paper;
  /** Counts up to now. */
  stats(): PrinterStats;
  headC(): number;
  /** Paper left on the roll, dot lines. */
  rollDots(): number;
  /** The program that had the port open is gone. */
  powerOff(): void;
}

export interface VirtualPrinterSetup {
  clock: Clock;
  traces: Traces;
  mechanism: Mechanism;
  line: Line;
  chance: Chance;
  /** What the head draws from; without it the voltage is what the head is meant for. */
  supply?: Pick<VirtualSupply, 'volts' | 'draw' | 'internalOhm'>;
  rollMm?: number;
  /** Lines of paper kept at least. */
  keepLines?: number;
  /** Every line on the traces `head` and `paper`, or only where they start and stop (for long runs). */
  traceLines?: boolean;
  /** Every byte as it arrives at the printer's end of the wire. */
  tap?: (bytes: Uint8Array) => void;
}

const openUs = 5_000;
const findUs = 300_000;
const wakeUs = 50_000;
/** Full speed bulk transfers carry about a megabyte a second; from memory. */
const usbByteUs = 1;
/** Paper that travels without heat is reckoned in pieces of so many lines. */
const feedPiece = 8;

type Work =
  | { kind: 'rows'; rows: readonly Uint8Array[]; next: number; times: number; inner: boolean }
  | { kind: 'feed'; lines: number }
  | { kind: 'cut' };

/**
 * A receipt printer with one thread of firmware: it reads a row out of its receive buffer, prints it, and reads on;
 * what arrives meanwhile must fit the buffer. Bytes on the wire are reckoned, not ticked, yet every one is accounted
 * for at its own microsecond.
 */
export const createVirtualPrinter = (setup: VirtualPrinterSetup): VirtualPrinter => {
  const { clock, traces, mechanism, line, chance, supply, traceLines = true } = setup;
  const { quirks, motor, knows } = mechanism;
  const usb = line.kind === 'usb';
  const hostFlow = usb ? 'none' : line.flow;
  const printerFlow = usb ? 'none' : (line.printerFlow ?? line.flow);
  const byteUs = usb ? usbByteUs : byteUsAt(line.baud);
  const motorLineUs = 1e6 / (mechanism.dotsPerMm * motor.mmPerS);

  const wire = createWire(byteUs, usb ? 0 : (line.chipBytes ?? (hostFlow === 'rtscts' ? 0 : 16)));
  const buffer = createReceiveBuffer(mechanism.bufferBytes);
  const paper = createPaper(mechanism, setup.keepLines);
  const head = createHead(mechanism);

  let heardBy: ((said: PrinterSaid) => void) | null = null;
  const outbox: PrinterSaid[] = [];
  let stopOpening: Undo = () => {};
  let plugged = true;
  let found = false;
  let undrained = false;

  let powered = true;
  let silent = false;
  let deafUntilUs = 0;
  let sleepsAfterUs = quirks.sleepsAfterS * 1e6;
  let lastActiveUs = 0;
  let heat = startingHeat(mechanism);
  let statusMask = 0;
  let stopAsked = false;

  const forced = { paperOut: false, nearEnd: false, hot: false };
  let rollLines = (setup.rollMm ?? 20_000) * mechanism.dotsPerMm;
  let ownHot = false;
  let senses: Senses = {
    paperOut: false,
    nearEnd: false,
    lidOpen: false,
    hot: false,
    feeding: false,
    broken: false,
    cutterJammed: false,
  };

  let work: Work[] = [];
  /** Until when the mechanism works, and what is then to be done. */
  let busyUntilUs: number | null = null;
  let finishStep: () => void = () => {};
  let resting = true;
  let restedUs = 0;
  /** It came to rest with nothing unfinished: no command cut, no byte on its way. */
  let restedWhole = true;
  /** End of the last heated line and its dots; null when something came between. */
  let lastRow: { endUs: number; black: number } | null = null;
  let disturbing = 0;
  let headAmps = 0;
  let headTrace = 0;

  let received = 0;
  let lost = 0;
  let starved = 0;
  let linesHeated = 0;
  /** Lines of paper that the motor moved, back subtracted. */
  let travelled = 0;
  let dotsHeated = 0;
  /** Places in all that was ever written at which a `10 04 n` may end. */
  let written = 0;
  let hints: number[] = [];

  const orders: Orders = {
    rows: (rows, times, inner) => void work.push({ kind: 'rows', rows, next: 0, times, inner }),
    feed(lines) {
      if (lines > 0) work.push({ kind: 'feed', lines });
      else if (knows.reverse && !quirks.ignoresReverse) {
        const most = Math.floor(quirks.reverseMostMm * mechanism.dotsPerMm);
        work.push({ kind: 'feed', lines: Math.max(lines, -most) });
      }
    },
    cut: () => void (knows.cutter && work.push({ kind: 'cut' })),
    initialise() {
      heat = startingHeat(mechanism);
    },
    heat(dotsAtOnce, heatingUs, intervalUs) {
      if (knows.heat) heat = { ...heat, dotsAtOnce, heatingUs, intervalUs };
    },
    density(argument) {
      if (knows.density) heat = { ...heat, ...densitySetting(argument, quirks.densityFieldsSwapped) };
    },
    automaticStatus(mask) {
      if (!knows.automaticStatus) return;
      statusMask = mask;
      if (mask !== 0) answer(automaticStatus(senses));
    },
    sleep(afterS) {
      if (knows.sleep) sleepsAfterUs = afterS * 1e6;
    },
  };
  const decoder = createDecoder(mechanism.widthDots, mechanism.dotsPerMm, orders);

  // — the wire back to the host —
  const answers = createAnswers(clock, byteUs, byte => {
    if (!plugged) return;
    if (hostFlow === 'xonxoff' && (byte === 0x11 || byte === 0x13)) {
      sync();
      if (byte === 0x13) wire.hold(clock.nowUs());
      else wire.release(clock.nowUs());
      settle(false);
    } else if (found) heardBy?.({ kind: 'bytes', bytes: Uint8Array.of(byte) });
  });
  const answer = (bytes: readonly number[]) => {
    if (powered && !silent) answers.say(bytes, quirks.answerUs);
  };
  const scan = createAskScanner(n => {
    if (knows.status) answer([statusNow(n, senses)]);
  });
  const signalStop = () => {
    if (printerFlow === 'none') return;
    const offLineBusy = quirks.busyOffLine && isOffLine(senses);
    const wanted =
      powered && (offLineBusy || (stopAsked ? buffer.free < mechanism.goFree : buffer.free < mechanism.stopFree));
    if (wanted === stopAsked) return;
    stopAsked = wanted;
    if (printerFlow === 'xonxoff') {
      if (powered) answers.urgent(wanted ? 0x13 : 0x11);
    } else if (hostFlow === 'rtscts') {
      if (wanted) wire.hold(clock.nowUs());
      else wire.release(clock.nowUs());
      outbox.push({ kind: 'held', held: wanted });
    }
  };

  // — sensors —
  const sense = (change: Partial<Senses> = {}) => {
    const before = senses;
    senses = {
      ...before,
      ...change,
      paperOut: forced.paperOut || rollLines <= 0,
      nearEnd: forced.nearEnd || (mechanism.nearEndMm > 0 && rollLines <= mechanism.nearEndMm * mechanism.dotsPerMm),
      hot: forced.hot || ownHot,
    };
    if (statusMask === 0 || !powered) return;
    const [was, is] = [automaticStatus(before), automaticStatus(senses)];
    const heeded = [0x42, 0x04, 0x08];
    if (heeded.some((mask, i) => was[i] !== is[i] && (statusMask & mask) !== 0)) answer(is);
  };
  const senseHeat = () => {
    const celsius = head.temperatureC(clock.nowUs());
    if (!ownHot && celsius >= mechanism.head.stopC) {
      ownHot = true;
      sense();
    }
    if (!ownHot) return;
    const inUs = head.coolsInUs(mechanism.head.goC, clock.nowUs());
    if (inUs > 0 && inUs < Number.POSITIVE_INFINITY) clock.after(Math.ceil(inUs) + 1, () => changed(senseHeat));
    else if (inUs === 0) {
      ownHot = false;
      sense();
    }
  };
  const usePaper = (lines: number) => {
    rollLines -= lines;
    const out = rollLines <= 0;
    const near = rollLines <= mechanism.nearEndMm * mechanism.dotsPerMm;
    if (out !== senses.paperOut || near !== senses.nearEnd) sense();
  };

  // — mechanism —
  const drawHead = (dots: number) => {
    if (!supply) return;
    const open = supply.volts() + headAmps * supply.internalOhm;
    headAmps = dots === 0 ? 0 : open / (mechanism.head.elementOhm / dots + supply.internalOhm);
    supply.draw('head', headAmps);
  };
  const traceHead = (dots: number) => {
    const shown = traceLines ? dots : Math.min(1, dots);
    if (shown !== headTrace) traces.record('head', dots);
    headTrace = shown;
  };
  const busyFor = (us: number, finish: () => void) => {
    busyUntilUs = clock.nowUs() + Math.max(1, Math.round(us));
    finishStep = finish;
  };
  const travel = (lines: number) => {
    paper.move(lines);
    travelled += lines;
    usePaper(lines);
    if (traceLines) traces.record('paper', travelled);
  };
  /** A row that comes late into an image stops the paper: one to three lines are disturbed. */
  const judgeLateness = (inner: boolean, black: number) => {
    if (!lastRow || clock.nowUs() - lastRow.endUs <= motor.patienceUs) return;
    if (!inner && (lastRow.black === 0 || black === 0)) return;
    starved++;
    disturbing = chance.whole(1, 3);
  };
  const heatRow = (row: Uint8Array, inner: boolean) => {
    const nowUs = clock.nowUs();
    const black = blackDots(row);
    judgeLateness(inner, black);
    const fromRest = resting && nowUs - restedUs > motor.patienceUs;
    const begins = !inner && resting && restedWhole;
    drawHead(Math.min(black, heat.dotsAtOnce));
    const lineUs =
      Math.max(heatingTimeUs(black, heat) + heat.breakUs, motorLineUs) * motor.slowness +
      (fromRest ? motor.startUs : 0);
    const drive = head.fire(black, lineUs, heat, supply?.volts() ?? mechanism.head.volts, nowUs);
    paper.heat(row, drive, disturbing > 0, begins, nowUs);
    if (disturbing > 0) disturbing--;
    traceHead(black);
    resting = false;
    linesHeated++;
    dotsHeated += black;
    busyFor(lineUs, () => {
      travel(1);
      lastRow = { endUs: clock.nowUs(), black };
      senseHeat();
    });
  };
  const feedPieceOf = (lines: number) => {
    drawHead(0);
    traceHead(0);
    resting = false;
    lastRow = null;
    busyFor(Math.abs(lines) * motorLineUs * motor.slowness, () => travel(lines));
  };
  const beginStep = (now: Work) => {
    if (now.kind === 'rows') {
      const row = now.rows[Math.floor(now.next / now.times)];
      heatRow(row, now.inner || now.next > 0);
      now.next++;
      if (now.next === now.rows.length * now.times) work.shift();
    } else if (now.kind === 'feed') {
      const piece = Math.max(-feedPiece, Math.min(feedPiece, now.lines, Math.max(1, Math.ceil(rollLines))));
      now.lines -= piece;
      if (now.lines === 0) work.shift();
      feedPieceOf(piece);
    } else {
      work.shift();
      busyFor(300_000, () => paper.mark('cut', paper.at - paper.tearDots, clock.nowUs()));
    }
  };
  const comeToRest = () => {
    if (resting) return;
    resting = true;
    restedUs = clock.nowUs();
    restedWhole = decoder.between && work.length === 0 && wire.queued === 0;
    lastActiveUs = Math.max(lastActiveUs, restedUs);
    drawHead(0);
    traceHead(0);
    if (!traceLines) traces.record('paper', travelled);
  };
  const canTake = () => powered && busyUntilUs === null && work.length === 0 && !isOffLine(senses);
  const proceed = () => {
    if (busyUntilUs !== null) return;
    if (canTake() && buffer.stored > 0) buffer.drain(decoder.take, canTake);
    if (powered && work.length > 0 && !isOffLine(senses)) return beginStep(work[0]);
    if (isOffLine(senses)) lastRow = null;
    comeToRest();
  };

  // — receiving —
  const receive = (bytes: Uint8Array, from: number, to: number, firstAtUs: number) => {
    received += to - from;
    setup.tap?.(bytes.subarray(from, to));
    if (!powered) return;
    let at = from;
    const asleep = sleepsAfterUs > 0 && resting && work.length === 0 && firstAtUs - lastActiveUs >= sleepsAfterUs;
    if (asleep) {
      deafUntilUs = firstAtUs + wakeUs;
      if (bytes[at] === 0xff) at++;
    }
    lastActiveUs = firstAtUs + (to - from - 1) * byteUs;
    if (firstAtUs < deafUntilUs) {
      const unheard = Math.min(to, from + Math.ceil((deafUntilUs - firstAtUs) / byteUs));
      lost += Math.max(0, unheard - at);
      at = Math.max(at, unheard);
    }
    scan(bytes, at, to);
    while (at < to && buffer.stored === 0 && canTake()) {
      at = decoder.take(bytes, at, to);
      if (work.length > 0) proceed();
    }
    if (at < to) lost += buffer.put(bytes, at, to);
  };
  const sync = () => {
    const nowUs = clock.nowUs();
    if (!usb) wire.arrive(nowUs, Number.POSITIVE_INFINITY, receive);
    else
      for (;;) {
        const most = !powered ? Number.POSITIVE_INFINITY : canTake() ? decoder.wants() : buffer.free;
        if (most === 0) wire.postpone(nowUs);
        if (most === 0 || wire.arrive(nowUs, most, receive) === 0) break;
      }
    while (hints.length > 0 && hints[0] < written - wire.queued) hints.shift();
    if (undrained && wire.queued === 0) {
      undrained = false;
      outbox.push({ kind: 'drained' });
    }
  };

  // — one timer for whatever comes next —
  let alarm: { dueUs: number; undo: Undo } | null = null;
  const nextDueUs = (): number => {
    let due = busyUntilUs ?? Number.POSITIVE_INFINITY;
    const { queued } = wire;
    if (queued === 0) return due;
    // In USB the rest waits at this end, so nothing beyond what has room is on its way.
    const room = !usb || !powered ? queued : canTake() ? decoder.wants() : buffer.free;
    if (room === 0) return due;
    due = Math.min(due, wire.dueUs(Math.min(queued, room)));
    if (hints.length > 0) due = Math.min(due, wire.dueUs(Math.min(room, hints[0] + 1 - (written - queued))));
    if (canTake()) due = Math.min(due, wire.dueUs(decoder.wants()));
    else if (powered && printerFlow !== 'none' && !stopAsked)
      due = Math.min(due, wire.dueUs(Math.max(1, buffer.free - mechanism.stopFree + 1)));
    return due;
  };
  const flush = () => {
    for (let said = outbox.shift(); said; said = outbox.shift()) if (found) heardBy?.(said);
  };
  const settle = (fromHost: boolean) => {
    signalStop();
    const dueUs = nextDueUs();
    if (dueUs < (alarm?.dueUs ?? Number.POSITIVE_INFINITY)) {
      alarm?.undo();
      alarm = { dueUs, undo: clock.after(dueUs - clock.nowUs(), wake) };
    }
    if (outbox.length === 0) return;
    // Whoever calls the port hears of it at the next moment, never inside the call.
    if (fromHost) clock.after(0, flush);
    else flush();
  };
  const wake = () => {
    alarm = null;
    sync();
    if (busyUntilUs !== null && busyUntilUs <= clock.nowUs()) {
      busyUntilUs = null;
      finishStep();
      proceed();
      if (usb) sync();
    }
    settle(false);
  };
  /** Something outside the wire changes: what arrived before it is taken in first. */
  const changed = (change: () => void) => {
    sync();
    change();
    proceed();
    settle(true);
  };

  const find = (delayUs: number) => {
    stopOpening();
    if (!heardBy) return;
    stopOpening = clock.after(delayUs, () => {
      if (plugged && (!usb || powered)) {
        found = true;
        heardBy?.({ kind: 'found' });
        if (stopAsked && hostFlow === 'rtscts') heardBy?.({ kind: 'held', held: true });
      } else heardBy?.({ kind: 'lost', why: 'no printer is plugged in' });
    });
  };
  const lose = (why: string) => {
    wire.cut();
    written = 0;
    hints = [];
    undrained = false;
    outbox.length = 0;
    answers.cut();
    if (!found) return;
    found = false;
    const heard = heardBy;
    clock.after(0, () => heard === heardBy && heard?.({ kind: 'lost', why }));
  };
  const forget = () => {
    buffer.clear();
    decoder.reset();
    work = [];
    busyUntilUs = null;
    lastRow = null;
    statusMask = 0;
    heat = startingHeat(mechanism);
    sleepsAfterUs = quirks.sleepsAfterS * 1e6;
    answers.cut();
  };
  const feedWhileHeld = () => {
    if (!senses.feeding || !powered || senses.lidOpen || senses.paperOut) return;
    clock.after(Math.round(feedPiece * motorLineUs * motor.slowness), () =>
      changed(() => {
        if (senses.feeding && busyUntilUs === null) travel(feedPiece);
        feedWhileHeld();
      }),
    );
  };

  return {
    paper,
    port: {
      open(heard) {
        heardBy = heard;
        find(openUs);
        return () => {
          if (heardBy !== heard) return;
          sync();
          wire.discard(clock.nowUs());
          stopOpening();
          heardBy = null;
          found = false;
          outbox.length = 0;
          settle(true);
        };
      },
      write(bytes) {
        if (!found || bytes.length === 0) return;
        sync();
        for (const at of mayAskAt(bytes)) hints.push(written + at);
        written += bytes.length;
        undrained = true;
        wire.write(bytes, clock.nowUs());
        settle(true);
      },
      discard() {
        sync();
        const before = wire.queued;
        wire.discard(clock.nowUs());
        written -= before - wire.queued;
        hints = hints.filter(at => at < written);
        // The chip's last bytes still have to leave; if there are none, this end is empty now.
        sync();
        settle(true);
      },
    },
    control: {
      paperOut: on =>
        changed(() => {
          forced.paperOut = on;
          sense();
        }),
      nearEnd: on =>
        changed(() => {
          forced.nearEnd = on;
          sense();
        }),
      lid: open => changed(() => sense({ lidOpen: open })),
      hot: on =>
        changed(() => {
          forced.hot = on;
          sense();
        }),
      ambient: celsius =>
        changed(() => {
          head.ambient(celsius, clock.nowUs());
          senseHeat();
        }),
      unplug(why = 'the printer was unplugged') {
        if (!plugged) return;
        changed(() => {
          plugged = false;
          stopAsked = false;
          lose(why);
        });
      },
      replug() {
        if (plugged) return;
        plugged = true;
        find(findUs);
      },
      silent(on) {
        silent = on;
      },
      power(on) {
        if (on === powered) return;
        changed(() => {
          powered = on;
          if (!on) {
            forget();
            if (usb) lose('the printer has no power');
            return;
          }
          deafUntilUs = clock.nowUs() + quirks.powerUpMs * 1000;
          lastActiveUs = clock.nowUs();
          sense({ broken: false, cutterJammed: false });
          if (usb) find(quirks.powerUpMs * 1000 + findUs);
        });
      },
      loadRoll: mm =>
        changed(() => {
          rollLines = mm * mechanism.dotsPerMm;
          forced.paperOut = false;
          forced.nearEnd = false;
          paper.mark('roll', paper.at, clock.nowUs());
          // Whoever loads a roll pulls it through to the tear edge.
          paper.move(paper.tearDots);
          sense();
        }),
      tear: () => paper.mark('tear', paper.at - paper.tearDots, clock.nowUs()),
      feedButton: down =>
        changed(() => {
          sense({ feeding: down });
          feedWhileHeld();
        }),
      jamCutter: on => changed(() => sense({ cutterJammed: on })),
      break: () => changed(() => sense({ broken: true })),
      says: bytes => answer(bytes),
    },
    stats() {
      sync();
      settle(true);
      return {
        ...decoder.counts,
        bytesReceived: received,
        bytesLost: lost,
        starvedLines: starved,
        linesHeated,
        dotsHeated,
        peakStored: buffer.peak,
        headJoules: head.joules,
      };
    },
    headC: () => head.temperatureC(clock.nowUs()),
    rollDots: () => Math.max(0, rollLines),
    powerOff() {
      sync();
      wire.cut();
      written = 0;
      hints = [];
      undrained = false;
      stopOpening();
      heardBy = null;
      found = false;
      outbox.length = 0;
    },
  };
};
