import type { Undo } from '../parts/clock.ts';

/** Where the lines go. Never waits. */
export interface Way {
  /** Takes as many bytes as fit now and says how many; throws a system error, EAGAIN where none fit. */
  write(bytes: Uint8Array): number;
  /** After it was lost: throws where it isn't to be had again. */
  reopen(): void;
  close(): void;
}

export interface OutletOptions {
  way: Way;
  /** Lines that wait may take this much; from three quarters on only warnings and errors are taken. */
  longestBytes?: number;
  /** The way takes lines again: so many were dropped meanwhile, all at this place of the log. */
  onDropped?: (lines: number) => void;
  /** A real timer; tests put their own in. */
  later?: (delayMs: number, act: () => void) => Undo;
}

export interface Outlet {
  /** Takes one whole line with its line feed. */
  write(line: string): void;
  /** pino sets it before each line (see its `pino.metadata`): a number, 40 is a warning. */
  lastLevel: number;
  /** Lines dropped and not yet spoken of. */
  readonly dropped: number;
  readonly waitingBytes: number;
  /** Writes what the way still takes now, and lets go of it. */
  close(): void;
}

const warning = 40;
/** A line that speaks of dropped ones is shorter than this. */
const tellingBytes = 200;
const retryFromMs = 20;
const retryToMs = 250;
const reopenFromMs = 1000;
const reopenToMs = 15_000;

const realTimer = (delayMs: number, act: () => void): Undo => {
  const timer = setTimeout(act, delayMs);
  // A log never keeps the program alive.
  timer.unref();
  return () => clearTimeout(timer);
};

/**
 * A bounded, never waiting way out for log lines: a console may be slow, jammed or gone. What doesn't fit is dropped,
 * whole lines only, counted, and spoken of where it is missing.
 */
export const createOutlet = (options: OutletOptions): Outlet => {
  const { way, longestBytes = 65_536, onDropped = () => {}, later = realTimer } = options;
  let queue: Uint8Array[] = [];
  let waitingBytes = 0;
  /** Bytes of the first line that are out already. */
  let sent = 0;
  let dropped = 0;
  let gone = false;
  let closed = false;
  let delayMs = 0;
  let stopTimer: Undo = () => {};

  const retry = (fromMs: number, toMs: number, act: () => void) => {
    delayMs = Math.min(toMs, Math.max(fromMs, delayMs * 2));
    stopTimer();
    stopTimer = later(delayMs, act);
  };
  const put = (): 'out' | 'jammed' | 'gone' => {
    while (queue.length > 0) {
      const [line] = queue;
      try {
        const took = way.write(sent === 0 ? line : line.subarray(sent));
        if (took > 0) delayMs = 0;
        sent += took;
        if (took === 0) return 'jammed';
      } catch (error) {
        const { code } = error as NodeJS.ErrnoException;
        if (code === 'EINTR') continue;
        return code === 'EAGAIN' || code === 'EWOULDBLOCK' ? 'jammed' : 'gone';
      }
      if (sent < line.length) continue;
      queue.shift();
      waitingBytes -= line.length;
      sent = 0;
    }
    return 'out';
  };
  const take = (line: Uint8Array) => {
    queue.push(line);
    waitingBytes += line.length;
  };
  const tellDropped = () => {
    const lines = dropped;
    dropped = 0;
    onDropped(lines);
  };
  const flow = () => {
    if (gone || closed) return;
    const state = put();
    if (state === 'gone') {
      gone = true;
      delayMs = 0;
      return retry(reopenFromMs, reopenToMs, comeBack);
    }
    if (dropped > 0 && waitingBytes <= longestBytes / 2) tellDropped();
    if (state === 'jammed') retry(retryFromMs, retryToMs, flow);
  };
  const comeBack = () => {
    if (closed) return;
    try {
      way.reopen();
    } catch {
      return retry(reopenFromMs, reopenToMs, comeBack);
    }
    gone = false;
    delayMs = 0;
    if (sent > 0) {
      // The half that went out before ends here; whoever listens now gets the line whole.
      sent = 0;
      queue = [new Uint8Array([0x0a]), ...queue];
      waitingBytes++;
    }
    flow();
  };

  const outlet: Outlet = {
    lastLevel: 0,
    write(line) {
      if (closed) return;
      const bytes = Buffer.from(line);
      const grave = outlet.lastLevel >= warning;
      const room = (grave ? longestBytes : longestBytes * 0.75) - waitingBytes;
      // Where lines are missing that has to be said before anything follows, and only what is grave is worth it now.
      const fits =
        dropped === 0 ? waitingBytes === 0 || bytes.length <= room : grave && bytes.length + tellingBytes <= room;
      if (!fits) {
        dropped++;
        return;
      }
      if (dropped > 0) tellDropped();
      take(bytes);
      if (queue.length === 1 && !gone) flow();
    },
    get dropped() {
      return dropped;
    },
    get waitingBytes() {
      return waitingBytes;
    },
    close() {
      if (closed) return;
      if (!gone) put();
      closed = true;
      stopTimer();
      way.close();
    },
  };
  return Object.assign(outlet, { [Symbol.for('pino.metadata')]: true });
};
