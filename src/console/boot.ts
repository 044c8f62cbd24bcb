import type { Heard } from './read/stream.ts';

/** In their order; each lasts until the next begins. */
export const phaseNames = ['kernel', 'first process', 'node', 'warm-up', 'the rest'] as const;

export interface BootPhase {
  name: (typeof phaseNames)[number];
  fromS: number;
  toS: number;
}
/** Nothing was said for a while; with the lines around. */
export interface BootGap {
  fromS: number;
  toS: number;
  before: string;
  after: string;
}

/** Where the time of one boot went. Seconds count from the boot, by the kernel's own stamps and by `mono`. */
export interface Boot {
  phases: BootPhase[];
  /** The longest ones, longest first. */
  gaps: BootGap[];
  firstS: number;
  /** When the camera was ready; null where it never was. */
  readyS: number | null;
  lastS: number;
  /** Bytes on the console up to then, by who said them. */
  bytes: { kernel: number; manager: number; own: number; other: number };
  /** From the kernel's command line; null where that wasn't seen. */
  baud: number | null;
  quiet: boolean | null;
}

export interface BootWatch {
  /** Gives a boot when the camera is ready, or when the next one begins before that. */
  take(heard: Heard): Boot | null;
  /** The boot that was under way. */
  end(): Boot | null;
}

const mostGaps = 5;
const leastGapS = 0.02;
/** Kernel lines of two processors may change places; this much back is no new boot. */
const toleranceS = 0.5;
/** A boot that isn't ready by then is looked at no further. */
const longestS = 300;

const consoleOf = /\bconsole=tty(?:S|AMA|USB|GS)\d+,(\d+)/;
const initOf = /^Run \S+ as init process/;

const noBytes = () => ({ kernel: 0, manager: 0, own: 0, other: 0 });

/** One boot while it goes on. */
const createCourse = (firstS: number, bytes: Boot['bytes']) => {
  const gaps: BootGap[] = [];
  const marks: Partial<Record<BootPhase['name'], number>> = {};
  let last: { atS: number; text: string } | null = null;
  let baud: number | null = null;
  let quiet: boolean | null = null;

  const noteGap = (atS: number, text: string) => {
    if (last && atS - last.atS >= leastGapS) {
      gaps.push({ fromS: last.atS, toS: atS, before: last.text, after: text });
      gaps.sort((a, b) => b.toS - b.fromS - (a.toS - a.fromS));
      gaps.length = Math.min(gaps.length, mostGaps);
    }
    if (!last || atS >= last.atS) last = { atS, text };
  };
  return {
    bytes,
    hear(heard: Heard, atS: number) {
      if (heard.kind === 'kernel') {
        noteGap(atS, heard.text);
        if (initOf.test(heard.text)) marks.kernel ??= atS;
        if (!/command line: /i.test(heard.text)) return;
        baud ??= Number(consoleOf.exec(heard.text)?.[1] ?? 0) || null;
        quiet ??= /\bquiet\b/.test(heard.text);
      } else if (heard.kind === 'own') {
        const { event, nodeMs } = heard.record;
        noteGap(atS, event);
        if (event === 'start') {
          marks['first process'] = Math.max(0, atS - Number(nodeMs) / 1000);
          marks.node = atS;
        } else if (event === 'webcam-ready') marks['warm-up'] ??= atS;
      }
    },
    /** The boot as it was up to `toS`. */
    tell(readyS: number | null): Boot {
      const lastS = readyS ?? last?.atS ?? firstS;
      const phases: BootPhase[] = [];
      // Both clocks begin with the boot, whether the kernel said anything or not.
      let fromS = 0;
      for (const name of phaseNames) {
        const toS = name === 'the rest' ? lastS : marks[name];
        if (toS === undefined || toS < fromS) continue;
        phases.push({ name, fromS, toS });
        fromS = toS;
      }
      return { phases, gaps, firstS, readyS, lastS, bytes, baud, quiet };
    },
  };
};

/** Finds boots in what a console carried, in memory that doesn't grow. */
export const createBootWatch = (): BootWatch => {
  let course: ReturnType<typeof createCourse> | null = null;
  /** Of kernel and program apart: a program that stood still speaks of a moment that is past. */
  let last: { kernel: number; own: number } | null = null;
  let lastByte = 0;
  /** What firmware and loader say before the kernel's first line belongs to its boot. */
  let early = noBytes();

  const end = (readyS: number | null = null): Boot | null => {
    const boot = course?.tell(readyS) ?? null;
    course = null;
    return boot;
  };
  return {
    take(heard) {
      const atS = heard.kind === 'own' ? heard.record.mono / 1e6 : heard.kind === 'kernel' ? heard.atS : null;
      let ended: Boot | null = null;
      if (atS !== null && (heard.kind === 'own' || heard.kind === 'kernel')) {
        if (last === null || atS < last[heard.kind] - (heard.kind === 'own' ? 0 : toleranceS)) {
          ended = end();
          course = createCourse(atS, early);
          last = { kernel: Number.NEGATIVE_INFINITY, own: Number.NEGATIVE_INFINITY };
        }
        last[heard.kind] = atS;
        early = noBytes();
      }
      const who = heard.kind === 'own' || heard.kind === 'kernel' || heard.kind === 'manager' ? heard.kind : 'other';
      (course?.bytes ?? early)[who] += heard.endByte - lastByte;
      lastByte = heard.endByte;
      if (!course || atS === null) return ended;
      if (atS > longestS && heard.kind === 'kernel') return end();
      course.hear(heard, atS);
      return heard.kind === 'own' && heard.record.event === 'ready' ? end(atS) : ended;
    },
    end: () => end(),
  };
};
