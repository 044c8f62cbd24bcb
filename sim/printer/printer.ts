import type { Clock, Undo } from '../../src/parts/clock.ts';
import type { Printer } from '../../src/parts/printer.ts';
import type { Paper } from '../paper/paper.ts';
import { createPaper } from '../paper/paper.ts';
import type { Chance } from '../random.ts';
import type { VirtualSupply } from '../supply.ts';
import type { Traces } from '../traces.ts';
import { createAnswers } from './answers.ts';
import type { PrinterControl, PrinterStats } from './control.ts';
import { createDecoder, idleOrders } from './decoder.ts';
import { createGuest } from './guest.ts';
import { createHead, densitySetting, startingHeat } from './head.ts';
import { createLink } from './link.ts';
import { type Mechanism, usualThresholds } from './mechanism.ts';
import { createPress, feedPiece } from './press.ts';
import { createAskScanner, createAskWatch, createReceiveBuffer } from './receive.ts';
import { createSensors } from './sensors.ts';
import { automaticStatus, statusNow } from './status.ts';
import { byteUsAt, createWire } from './wire.ts';

export type { PrinterControl } from './control.ts';

type Flow = 'none' | 'xonxoff' | 'rtscts';

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
  /** Somebody tears each print off when the printer has rested this long; left out: only `control.tear` does. */
  tearsAfterMs?: number;
  /** Every byte as it arrives at the printer's end of the wire. */
  tap?: (bytes: Uint8Array) => void;
}

const openUs = 5_000;
const findUs = 300_000;
const wakeUs = 50_000;
/** Full speed bulk transfers carry about a megabyte a second; from memory. */
const usbByteUs = 1;

/**
 * A receipt printer with one thread of firmware: it reads a row out of its receive buffer, prints it, and reads on;
 * what arrives meanwhile must fit the buffer. Bytes on the wire are reckoned, not ticked, yet every one is accounted
 * for at its own microsecond.
 */
export const createVirtualPrinter = (setup: VirtualPrinterSetup): VirtualPrinter => {
  const { clock, traces, mechanism, line, chance, supply, traceLines = true } = setup;
  const { quirks, knows } = mechanism;
  const usb = line.kind === 'usb';
  const hostFlow = usb ? 'none' : line.flow;
  const printerFlow = usb ? 'none' : (line.printerFlow ?? line.flow);
  const flowAt = mechanism.flowAt ?? usualThresholds(mechanism.bufferBytes);
  const byteUs = usb ? usbByteUs : byteUsAt(line.baud);

  const wire = createWire(byteUs, usb ? 0 : (line.chipBytes ?? (hostFlow === 'rtscts' ? 0 : 16)));
  const buffer = createReceiveBuffer(mechanism.bufferBytes);
  const paper = createPaper(mechanism, setup.keepLines);
  const head = createHead(mechanism);

  const asked = createAskWatch();
  const link = createLink(
    clock,
    () => !usb || powered,
    () => {
      if (stopAsked && hostFlow === 'rtscts') link.say({ kind: 'held', held: true });
    },
  );
  let undrained = false;

  let powered = true;
  let silent = false;
  let stopBooting: Undo = () => {};
  let deafUntilUs = 0;
  let sleepsAfterUs = quirks.sleepsAfterS * 1e6;
  let lastHeardUs = 0;
  let heat = startingHeat(mechanism);
  let statusMask = 0;
  let stopAsked = false;
  let received = 0;
  let lost = 0;

  const answers = createAnswers(clock, byteUs, byte => {
    if (!link.plugged) return;
    if (hostFlow === 'xonxoff' && (byte === 0x11 || byte === 0x13)) {
      sync();
      if (byte === 0x13) wire.hold();
      else wire.release(clock.nowUs());
      settle(false);
    } else link.say({ kind: 'bytes', bytes: Uint8Array.of(byte) });
  });
  const answer = (bytes: readonly number[]) => {
    if (powered && !silent) answers.say(bytes, quirks.answerUs);
  };
  const sensors = createSensors(
    mechanism,
    head,
    clock.nowUs,
    (setup.rollMm ?? 20_000) * mechanism.dotsPerMm,
    (delayUs, run) => void clock.after(delayUs, () => changed(run)),
    (before, after) => {
      if (statusMask === 0) return;
      const [was, is] = [automaticStatus(before), automaticStatus(after)];
      // Which change is heeded, byte by byte: on or off line and button, errors, paper (from memory).
      if ([0x42, 0x04, 0x08].some((mask, i) => was[i] !== is[i] && (statusMask & mask) !== 0)) answer(is);
    },
  );
  const { tearsAfterMs } = setup;
  const press = createPress({
    clock,
    traces,
    mechanism,
    chance,
    head,
    heat: () => heat,
    paper,
    sensors,
    supply,
    traceLines,
    guest: tearsAfterMs === undefined ? undefined : createGuest(clock, paper, tearsAfterMs * 1000),
  });
  const decoder = createDecoder(mechanism.widthDots, mechanism.dotsPerMm, {
    rows: (rows, times, inner) => press.add({ kind: 'rows', rows, next: 0, times, inner }),
    feed(lines) {
      const most = Math.floor(quirks.reverseMostMm * mechanism.dotsPerMm);
      if (lines > 0) press.add({ kind: 'feed', lines });
      else if (knows.reverse && !quirks.ignoresReverse) press.add({ kind: 'feed', lines: Math.max(lines, -most) });
    },
    cut() {
      if (knows.cutter) press.add({ kind: 'cut' });
    },
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
      if (mask !== 0) answer(automaticStatus(sensors.senses));
    },
    sleep(afterS) {
      if (knows.sleep) sleepsAfterUs = afterS * 1e6;
    },
  });

  const canTake = () => powered && press.idle && !sensors.offLine;
  const nothingUnderWay = () => decoder.between && press.idle && wire.queued === 0;
  const proceed = () => {
    if (canTake() && buffer.stored > 0) buffer.drain(decoder.take, canTake);
    if (powered) press.proceed(nothingUnderWay);
  };

  const asks = createAskScanner(
    n => {
      if (knows.status) answer([statusNow(n, sensors.senses)]);
    },
    quirks.statusInImages ? null : createDecoder(mechanism.widthDots, mechanism.dotsPerMm, idleOrders),
  );
  /** How many of the bytes it doesn't hear, since it boots, sleeps or wakes up. */
  const unheard = (bytes: Uint8Array, from: number, to: number, firstAtUs: number): number => {
    const quietSinceUs = Math.max(lastHeardUs, press.restingSinceUs ?? Number.POSITIVE_INFINITY);
    let woken = 0;
    if (sleepsAfterUs > 0 && press.idle && firstAtUs - quietSinceUs >= sleepsAfterUs) {
      deafUntilUs = firstAtUs + wakeUs;
      if (bytes[from] === 0xff) woken = 1;
    }
    lastHeardUs = firstAtUs + (to - from - 1) * byteUs;
    if (firstAtUs >= deafUntilUs) return 0;
    const deaf = Math.min(to - from, Math.ceil((deafUntilUs - firstAtUs) / byteUs));
    lost += deaf - woken;
    return deaf;
  };
  const receive = (bytes: Uint8Array, from: number, to: number, firstAtUs: number) => {
    received += to - from;
    setup.tap?.(bytes.subarray(from, to));
    if (!powered) return;
    let at = from + unheard(bytes, from, to, firstAtUs);
    asks.scan(bytes, at, to);
    while (at < to && buffer.stored === 0 && canTake()) {
      at = decoder.take(bytes, at, to);
      if (!press.idle) proceed();
    }
    if (at < to) lost += buffer.put(bytes, at, to);
  };
  /** Bytes that have room at the printer; on a serial line nobody asks. */
  const room = () => (!usb || !powered ? Number.POSITIVE_INFINITY : canTake() ? decoder.wants() : buffer.free);
  const sync = () => {
    const nowUs = clock.nowUs();
    for (let most = room(); wire.arrive(nowUs, most, receive) > 0; most = room());
    if (room() === 0) wire.postpone(nowUs);
    if (!undrained || wire.queued > 0) return;
    undrained = false;
    link.keep({ kind: 'drained' }, () => !undrained);
  };

  const signalFlow = () => {
    if (printerFlow === 'none' || !powered) return;
    const offLineBusy = quirks.busyOffLine && sensors.offLine;
    const wanted = offLineBusy || buffer.free < (stopAsked ? flowAt.goFree : flowAt.stopFree);
    if (wanted === stopAsked) return;
    stopAsked = wanted;
    if (printerFlow === 'xonxoff') answers.urgent(wanted ? 0x13 : 0x11);
    else if (hostFlow === 'rtscts') {
      if (wanted) wire.hold();
      else wire.release(clock.nowUs());
      link.keep({ kind: 'held', held: wanted });
    }
  };

  /** When something next happens that arithmetic alone doesn't cover. */
  const nextDueUs = (): number => {
    let due = press.busyUntilUs;
    const fits = Math.min(wire.queued, room());
    if (fits === 0) return due;
    due = Math.min(due, wire.dueUs(Math.min(fits, asked.next(wire.queued))));
    if (canTake()) due = Math.min(due, wire.dueUs(decoder.wants()));
    else if (powered && printerFlow !== 'none' && !stopAsked)
      due = Math.min(due, wire.dueUs(Math.max(1, buffer.free - flowAt.stopFree + 1)));
    return due;
  };
  let alarm: { dueUs: number; undo: Undo } | null = null;
  const settle = (insideCall: boolean) => {
    signalFlow();
    const dueUs = nextDueUs();
    // An alarm that turns out to be too early does no harm.
    if (dueUs < (alarm?.dueUs ?? Number.POSITIVE_INFINITY)) {
      alarm?.undo();
      alarm = { dueUs, undo: clock.after(dueUs - clock.nowUs(), wake) };
    }
    link.flush(insideCall);
  };
  const wake = () => {
    alarm = null;
    sync();
    if (press.busyUntilUs <= clock.nowUs()) {
      press.finish();
      proceed();
      sync();
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

  const takeBack = () => {
    const before = wire.queued;
    wire.discard();
    asked.drop(before - wire.queued);
  };
  const clearLine = () => {
    asked.drop(wire.queued);
    wire.cut();
    undrained = false;
    link.forget();
    answers.cut();
    stopAsked = false;
  };
  const lose = (why: string) => {
    clearLine();
    link.lose(why);
  };
  const losePower = () => {
    powered = false;
    buffer.clear();
    decoder.reset();
    asks.reset();
    press.drop();
    answers.cut();
    statusMask = 0;
    stopBooting();
    // An XOFF outlives its sender; a line that nothing drives any more does not hold.
    if (stopAsked && printerFlow === 'rtscts' && hostFlow === 'rtscts') {
      wire.release(clock.nowUs());
      link.keep({ kind: 'held', held: false });
    }
    stopAsked = false;
    if (usb) lose('the printer has no power');
  };
  const getPower = () => {
    powered = true;
    heat = startingHeat(mechanism);
    sleepsAfterUs = quirks.sleepsAfterS * 1e6;
    deafUntilUs = clock.nowUs() + quirks.powerUpMs * 1000;
    lastHeardUs = deafUntilUs;
    sensors.feel({ broken: false, cutterJammed: false });
    // Ready: it lets a host go on that stopped at an XOFF of its former life (from memory).
    if (printerFlow === 'xonxoff')
      stopBooting = clock.after(quirks.powerUpMs * 1000, () => !stopAsked && answers.urgent(0x11));
    if (usb) link.find(quirks.powerUpMs * 1000 + findUs);
  };
  const feedWhileHeld = () => {
    const { feeding, lidOpen, paperOut } = sensors.senses;
    if (!feeding || !powered || lidOpen || paperOut) return;
    const pieceUs = (feedPiece * 1e6 * mechanism.motor.slowness) / (mechanism.dotsPerMm * mechanism.motor.mmPerS);
    clock.after(pieceUs, () =>
      changed(() => {
        if (sensors.senses.feeding) press.travel(feedPiece);
        feedWhileHeld();
      }),
    );
  };

  return {
    paper,
    port: {
      open(heard) {
        link.open(heard);
        link.find(openUs);
        return () => {
          if (!link.close(heard)) return;
          sync();
          takeBack();
          settle(true);
        };
      },
      write(bytes) {
        if (!link.found || bytes.length === 0) return;
        sync();
        asked.add(bytes);
        undrained = true;
        wire.write(bytes, clock.nowUs());
        settle(true);
      },
      discard() {
        sync();
        takeBack();
        sync();
        settle(true);
      },
    },
    control: {
      paperOut: on => changed(() => sensors.force({ paperOut: on })),
      nearEnd: on => changed(() => sensors.force({ nearEnd: on })),
      lid: open => changed(() => sensors.feel({ lidOpen: open })),
      hot: on => changed(() => sensors.force({ hot: on })),
      ambient: celsius =>
        changed(() => {
          head.ambient(celsius, clock.nowUs());
          sensors.checkHeat();
        }),
      unplug(why = 'the printer was unplugged') {
        if (!link.plugged) return;
        changed(() => {
          link.plug(false);
          lose(why);
        });
      },
      replug() {
        if (link.plugged) return;
        link.plug(true);
        link.find(findUs);
      },
      silent(on) {
        silent = on;
      },
      power(on) {
        if (on !== powered) changed(on ? getPower : losePower);
      },
      loadRoll: mm =>
        changed(() => {
          paper.mark('roll', paper.at, clock.nowUs());
          paper.move(paper.tearDots);
          sensors.loadRoll(mm * mechanism.dotsPerMm);
        }),
      tear: () => paper.mark('tear', paper.at - paper.tearDots, clock.nowUs()),
      feedButton: down =>
        changed(() => {
          sensors.feel({ feeding: down });
          feedWhileHeld();
        }),
      jamCutter: on => changed(() => sensors.feel({ cutterJammed: on })),
      break: () => changed(() => sensors.feel({ broken: true })),
      says: bytes => answer(bytes),
    },
    stats() {
      sync();
      settle(true);
      return {
        ...decoder.counts,
        ...press.counts,
        bytesReceived: received,
        bytesLost: lost,
        peakStored: buffer.peak,
        headJoules: head.joules,
      };
    },
    headC: () => head.temperatureC(clock.nowUs()),
    rollDots: () => sensors.rollLines,
    powerOff() {
      sync();
      clearLine();
      link.close();
      settle(true);
    },
  };
};
