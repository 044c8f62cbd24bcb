import { crc32 } from 'node:zlib';
import type { About, AlbumSaid } from '../parts/album.ts';
import type { ButtonSaid } from '../parts/button.ts';
import type { Clock, Undo } from '../parts/clock.ts';
import type { Caption, Dots } from '../parts/darkroom.ts';
import type { LampPattern } from '../parts/lamp.ts';
import type { Rig } from '../parts/rig.ts';
import type { ShutterSaid } from '../parts/shutter.ts';
import type { SupplySaid } from '../parts/supply.ts';
import type { Frame, WebcamSaid } from '../parts/webcam.ts';
import { crcText, giveDigest } from './digest.ts';
import type { Entry, FrameFields } from './entry.ts';
import { callOf } from './inlet.ts';

/** What the machine did to parts that only listen; for traces and files. */
export interface Deeds {
  coil?(on: boolean): void;
  lamp?(pattern: LampPattern): void;
  motor?(direction: 'in' | 'out' | 'off'): void;
  printer?(bytes: Uint8Array): void;
  discard?(): void;
}

export interface PortsOptions {
  clock: Clock;
  shutterSays: boolean;
  /** Whether a call of this moment threw in the recording, and why. */
  refusal(part: Entry['part'], call: () => string): string | null;
  /** The run goes another way than the recording. */
  differs(expected: string, came: string): void;
  /** The dots of a picture, developed again from a frame that was kept; null where there is none. */
  developAgain?(caption: Caption): Dots | null;
  deeds?: Deeds;
}

export interface Ports {
  rig: Rig;
  /** Says what the recording says, to whoever listens for it or asked for it. */
  say(entry: Entry): void;
  /** Requests without an answer, with the time they were made. */
  open(): { call: string; askedUs: number }[];
  readonly sentBytes: number;
}

interface Request {
  askedUs: number;
  answer(entry: Entry): void;
}

const dotsOf = ({
  widthDots,
  heightDots,
  strideBytes,
  dots,
}: Extract<Entry, { part: 'darkroom'; kind: 'developed' }>): Dots => ({
  widthDots,
  heightDots,
  strideBytes,
  data: Buffer.from(dots, 'base64'),
});

const firstDifference = (a: Uint8Array, b: Uint8Array): number => {
  const length = Math.min(a.length, b.length);
  for (let i = 0; i < length; i++) if (a[i] !== b[i]) return i;
  return a.length === b.length ? -1 : length;
};

/** An input in a few words. */
export const entryInWords = (entry: Entry): string => {
  const { t: _, part, ...said } = entry;
  const words = Object.entries(said)
    .filter(([name]) => name !== 'kind' && name !== 'type')
    .map(([name, value]) => {
      const text = typeof value === 'string' ? value : JSON.stringify(value);
      return `${name} ${text.length > 40 ? `${text.slice(0, 40)}…` : text}`;
    });
  return [`${part} ${'kind' in entry ? entry.kind : entry.type}`, ...words].join(', ');
};

/** Parts that say exactly what a recording says. */
export const createPorts = (options: PortsOptions): Ports => {
  const { clock, refusal, differs, deeds = {} } = options;
  const listeners = new Map<string, (entry: Entry) => void>();
  const requests = new Map<string, Request[]>();
  let sentBytes = 0;
  let sentCrc = 0;

  const refuse = (part: Entry['part'], name: string, what: readonly unknown[]) => {
    const why = refusal(part, () => callOf(name, what));
    if (why !== null) throw new Error(why);
  };
  /** A call that is refused if it was, and else done. */
  const call =
    <A extends unknown[], R>(part: Entry['part'], name: string, act: (...what: A) => R) =>
    (...what: A): R => {
      refuse(part, name, what);
      return act(...what);
    };
  const listening =
    <T>(part: Entry['part'], name: string, saidOf: (entry: never) => T, kinds = part as string) =>
    (heard: (said: T) => void): Undo => {
      refuse(part, name, []);
      const listener = (entry: Entry) => heard(saidOf(entry as never));
      listeners.set(kinds, listener);
      return () => {
        if (listeners.get(kinds) === listener) listeners.delete(kinds);
      };
    };
  const ask = (key: string, answer: Request['answer']): Undo => {
    const request = { askedUs: clock.nowUs(), answer };
    const waiting = requests.get(key);
    if (waiting) waiting.push(request);
    else requests.set(key, [request]);
    return () => {
      const rest = (requests.get(key) ?? []).filter(one => one !== request);
      if (rest.length > 0) requests.set(key, rest);
      else requests.delete(key);
    };
  };
  const frameOf = (fields: FrameFields): Frame => {
    const { sequence, exposureStartUs, exposureEndUs, format, widthPx, heightPx, strideBytes, range, digest } = fields;
    const frame = {
      sequence,
      exposureStartUs,
      exposureEndUs,
      format,
      widthPx,
      heightPx,
      strideBytes,
      range,
      // Nobody here looks at it: what it was developed to is in the recording.
      data: new Uint8Array(0),
    };
    giveDigest(frame, digest ?? '');
    return frame;
  };
  const said = <T>(entry: Entry): T => {
    const { t: _, part: __, ...rest } = entry;
    return rest as T;
  };
  const compareDots = (caption: Caption, recorded: Dots) => {
    const again = options.developAgain?.(caption);
    if (!again) return;
    const { widthDots, heightDots, strideBytes, data } = again;
    if (widthDots !== recorded.widthDots || heightDots !== recorded.heightDots)
      return differs(
        `picture ${caption.shot} with ${recorded.widthDots} × ${recorded.heightDots} dots`,
        `${widthDots} × ${heightDots} dots out of the frame that was kept`,
      );
    const at = firstDifference(data, recorded.data);
    if (at >= 0)
      differs(
        `the dots of picture ${caption.shot} as they were`,
        `other dots from row ${Math.floor(at / strideBytes)} on, out of the frame that was kept`,
      );
  };

  const rig: Rig = {
    clock,
    button: { listen: listening<ButtonSaid>('button', 'listen', said) },
    shutter: {
      energise: call('shutter', 'energise', () => deeds.coil?.(true)),
      release: call('shutter', 'release', () => deeds.coil?.(false)),
      ...(options.shutterSays && { listen: listening<ShutterSaid>('shutter', 'listen', said) }),
    },
    webcam: {
      open: listening<WebcamSaid>('webcam', 'open', said),
      watch: listening('webcam', 'watch', frameOf, 'frame'),
    },
    darkroom: {
      develop: call('darkroom', 'develop', (_frame, caption, heard) =>
        ask(`develop ${caption.shot}`, entry => {
          if (entry.part !== 'darkroom' || entry.kind === 'threw') return;
          if (entry.kind === 'failed') return heard({ kind: 'failed', why: entry.why });
          const dots = dotsOf(entry);
          compareDots(caption, dots);
          heard({ kind: 'developed', dots });
        }),
      ),
    },
    printer: {
      open: listening('printer', 'open', (entry: Extract<Entry, { part: 'printer' }>) =>
        entry.kind === 'bytes'
          ? { kind: 'bytes', bytes: Buffer.from(entry.hex, 'hex') }
          : entry.kind === 'drained'
            ? { kind: 'drained' }
            : said(entry),
      ),
      write: call('printer', 'write', bytes => {
        sentBytes += bytes.length;
        sentCrc = crc32(bytes, sentCrc);
        deeds.printer?.(bytes);
      }),
      discard: call('printer', 'discard', () => deeds.discard?.()),
    },
    lamp: { show: call('lamp', 'show', pattern => deeds.lamp?.(pattern)) },
    motor: { drive: call('motor', 'drive', direction => deeds.motor?.(direction)) },
    album: {
      open: listening<AlbumSaid>('album', 'open', said),
      keep: call('album', 'keep', (shot, _frame, _about, heard) => {
        ask(`keep ${shot}`, entry => heard('why' in entry ? { kind: 'failed', why: entry.why } : { kind: 'kept' }));
      }),
      mark: call('album', 'mark', (shot, mark, heard) => {
        ask(`mark ${shot} ${mark}`, entry =>
          heard('why' in entry ? { kind: 'failed', why: entry.why } : { kind: 'kept' }),
        );
      }),
      keepDots: call('album', 'keepDots', () => {}),
      recall: call('album', 'recall', (shot, heard) =>
        ask(`recall ${shot}`, entry =>
          heard(
            'about' in entry
              ? { kind: 'recalled', frame: frameOf(entry as never), about: entry.about as About }
              : { kind: 'failed', why: 'why' in entry ? entry.why : '' },
          ),
        ),
      ),
      paperUsed: call('album', 'paperUsed', () => {}),
    },
    supply: { listen: listening<SupplySaid>('supply', 'listen', said) },
  };

  const answer = (key: string, entry: Entry) => {
    const request = requests.get(key)?.shift();
    if (!request) return differs(entryInWords(entry), `nobody asked the ${entry.part} to ${key}`);
    if (requests.get(key)?.length === 0) requests.delete(key);
    request.answer(entry);
  };
  const tell = (kinds: string, entry: Entry) => {
    const listener = listeners.get(kinds);
    if (listener) listener(entry);
    else differs(entryInWords(entry), `nobody listens to the ${entry.part}`);
  };

  return {
    rig,
    say(entry) {
      switch (entry.part) {
        case 'webcam':
          return tell(entry.kind === 'frame' ? 'frame' : 'webcam', entry);
        case 'darkroom':
          return entry.kind === 'threw' ? undefined : answer(`develop ${entry.shot}`, entry);
        case 'album':
          switch (entry.kind) {
            case 'kept':
            case 'not-kept':
              return answer(`keep ${entry.shot}`, entry);
            case 'marked':
            case 'not-marked':
              return answer(`mark ${entry.shot} ${entry.mark}`, entry);
            case 'recalled':
            case 'not-recalled':
              return answer(`recall ${entry.shot}`, entry);
            default:
              return tell('album', entry);
          }
        case 'printer':
          if (entry.kind === 'drained') {
            const digest = crcText(sentCrc);
            if (entry.bytes !== sentBytes || entry.digest !== digest)
              return differs(
                `${entry.bytes} bytes sent to the printer by then, CRC ${entry.digest}`,
                `${sentBytes} bytes, CRC ${digest}`,
              );
          }
          return tell('printer', entry);
        default:
          return tell(entry.part, entry);
      }
    },
    open: () => [...requests].flatMap(([key, waiting]) => waiting.map(({ askedUs }) => ({ call: key, askedUs }))),
    get sentBytes() {
      return sentBytes;
    },
  };
};
