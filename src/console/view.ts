import type { LogRecord } from './read/own.ts';
import { createPictureJoiner, type PictureRecord } from './read/pictures.ts';
import type { Heard } from './read/stream.ts';
import type { Level } from './vocabulary.ts';
import { recordInWords } from './words.ts';

export interface ViewOptions {
  colour: boolean;
  /** Least level shown; from `debug` on every line of kernel and service manager is. */
  level: Level;
  /** Wall time from which on anything is shown, ms since 1970. */
  sinceMs?: number;
}

export interface View {
  /** Lines to show, without line feeds. */
  take(heard: Heard): string[];
  /** What is still to be said when nothing follows. */
  end(): string[];
}

const order: readonly string[] = ['trace', 'debug', 'info', 'warn', 'error', 'fatal'];
const paint = (colour: boolean) => {
  const code = (on: number) => (text: string) => (colour ? `\x1b[${on}m${text}\x1b[0m` : text);
  return { faint: code(2), bold: code(1), good: code(36), warn: code(33), bad: code(31) };
};

/** A board without a clock starts in 1970. */
const firstPossibleMs = 1_735_689_600_000;
const two = (n: number) => String(n).padStart(2, '0');
const stamp = ({ time, mono }: { time: number; mono: number }): string => {
  if (time < firstPossibleMs) return `+${(mono / 1e6).toFixed(1)} s`.padStart(10);
  const date = new Date(time);
  return `${two(date.getHours())}:${two(date.getMinutes())}:${two(date.getSeconds())}`.padStart(10);
};

const ms = (us: number | undefined) => (us === undefined ? '–' : `${Math.round(us / 1000)} ms`);
const s = (us: number | undefined) => (us === undefined ? '–' : `${(us / 1e6).toFixed(2)} s`);
/** With the time before and the paper behind them, 80 columns. */
const columns: readonly (readonly [string, number, (picture: PictureRecord) => string])[] = [
  ['picture', 9, ({ picture }) => String(picture)],
  ['coil', 7, ({ pressToCoilUs }) => ms(pressToCoilUs)],
  ['frame', 8, ({ pressToFrameUs }) => ms(pressToFrameUs)],
  ['developed', 11, ({ developUs }) => s(developUs)],
  ['first dot', 11, ({ pressToDotUs }) => s(pressToDotUs)],
  ['printed', 9, ({ printUs }) => s(printUs)],
];
const head = `${' '.repeat(10)}${columns.map(([name, width]) => name.padStart(width)).join('')}  pictures left`;
const headEvery = 24;

const paperLeft = ({ paperLeftMm, picturesLeft }: PictureRecord): string =>
  paperLeftMm === undefined ? '–' : `${picturesLeft ?? '–'} (${(paperLeftMm / 1000).toFixed(2)} m)`;
const remarks = ({ kept, cuts, inkPercent }: PictureRecord): string =>
  [
    kept === false ? 'not kept' : '',
    cuts ? `cut short ${cuts === 1 ? 'once' : `${cuts} times`}` : '',
    inkPercent !== undefined && inkPercent > 90 ? `${Math.round(inkPercent)} % black` : '',
  ]
    .filter(Boolean)
    .join(', ');

/** What a kernel says when something is really wrong, whatever else it grumbles about. */
const grave =
  /Kernel panic|\bOops\b|\bBUG:|Out of memory|I\/O error|[Rr]emounting filesystem read-only|[Uu]nder-?voltage|rcu.*stall|blocked for more than/;
const control = /\p{Cc}/gu;
/** Nothing that a console carries may steer the terminal of the one who reads it. */
const harmless = (text: string): string => text.replace(control, '·');

/** The console as one reads it: a line a picture, faults in plain words, the rest in short. */
export const createView = ({ colour, level, sinceMs }: ViewOptions): View => {
  const { faint, bold, good, warn, bad } = paint(colour);
  const joiner = createPictureJoiner();
  const least = order.indexOf(level);
  const all = least <= order.indexOf('debug');
  let shown = sinceMs === undefined;
  let picturesSinceHead = headEvery;
  /** Lines of others that weren't shown. */
  let skipped = { kernel: 0, manager: 0, text: 0, damaged: 0, unknown: 0, untilS: 0 };

  const sayHead = (): string[] => {
    if (picturesSinceHead++ < headEvery) return [];
    picturesSinceHead = 1;
    return ['', faint(head)];
  };
  const sayPicture = (picture: PictureRecord): string[] => {
    const cells = columns.map(([, width, cell], i) =>
      i === 0 ? bold(cell(picture).padStart(width)) : cell(picture).padStart(width),
    );
    const remark = remarks(picture);
    return [
      ...sayHead(),
      `${faint(stamp(picture))}${cells.join('')}  ${good(paperLeft(picture))}${remark ? warn(`  ${remark}`) : ''}`,
    ];
  };
  const sayRecord = (record: LogRecord): string[] => {
    const words = recordInWords(record);
    if (words === null || order.indexOf(record.level) < least) return [];
    const [mark, tone] =
      order.indexOf(record.level) >= order.indexOf('error')
        ? ['■', bad]
        : record.level === 'warn'
          ? ['▲', warn]
          : ['·', (text: string) => text];
    return [`${faint(stamp(record))}  ${tone(`${mark} ${harmless(words)}`)}`];
  };
  const saySkipped = (): string[] => {
    const { kernel, manager, text, damaged, unknown, untilS } = skipped;
    const count = (n: number, what: string) => (n === 0 ? '' : `${n} ${what}${n === 1 ? '' : 's'}`);
    const parts = [
      kernel > 0 ? `${count(kernel, 'kernel line')} up to ${untilS.toFixed(3)} s` : '',
      count(manager, 'line') && `${count(manager, 'line')} of the service manager`,
      count(text, 'other line'),
      count(unknown, 'log line') && `${count(unknown, 'log line')} of another version`,
    ].filter(Boolean);
    skipped = { kernel: 0, manager: 0, text: 0, damaged: 0, unknown: 0, untilS: 0 };
    const lines = parts.length > 0 ? [faint(`${' '.repeat(10)}  ⋮ ${parts.join(', ')}`)] : [];
    if (damaged > 0) lines.push(`${' '.repeat(10)}  ${warn(`▲ ${count(damaged, 'damaged log line')} can’t be read`)}`);
    return lines;
  };
  const foreignLine = (heard: Exclude<Heard, { kind: 'own' }>): string => {
    const text = harmless(heard.text);
    if (heard.kind === 'kernel') return `${faint(`${heard.atS.toFixed(3)} s`.padStart(10))}  ${faint(text)}`;
    const name = heard.kind === 'manager' ? heard.state : heard.kind === 'text' ? '' : heard.kind;
    return `${faint(name.padStart(10))}  ${faint(text)}`;
  };

  const takeOwn = (record: LogRecord): string[] => {
    if (!shown && record.time >= (sinceMs as number)) shown = true;
    const picture = joiner.take(record);
    if (!shown) return [];
    const lines = picture?.outcome === 'printed' ? sayPicture(picture) : sayRecord(record);
    return lines.length > 0 ? [...saySkipped(), ...lines] : [];
  };
  const takeForeign = (heard: Exclude<Heard, { kind: 'own' }>): string[] => {
    if (!shown) return [];
    if (all) return [foreignLine(heard)];
    if (heard.kind === 'kernel' && (grave.test(heard.text) || (heard.severity ?? 7) <= 2))
      return [
        ...saySkipped(),
        `${faint(`${heard.atS.toFixed(3)} s`.padStart(10))}  ${bad(`■ kernel: ${harmless(heard.text)}`)}`,
      ];
    if (heard.kind === 'manager' && heard.state === 'FAILED')
      return [...saySkipped(), `${' '.repeat(10)}  ${warn(`▲ service manager: ${harmless(heard.text)}`)}`];
    skipped[heard.kind]++;
    if (heard.kind === 'kernel') skipped.untilS = heard.atS;
    return [];
  };

  return {
    take: heard => (heard.kind === 'own' ? takeOwn(heard.record) : takeForeign(heard)),
    end() {
      if (!shown) return [];
      const waiting = joiner.pending();
      const lines = saySkipped();
      if (waiting.length > 0)
        lines.push(
          `${' '.repeat(10)}  · not printed yet: picture${waiting.length === 1 ? '' : 's'} ${waiting.map(({ picture }) => picture).join(', ')}`,
        );
      return lines;
    },
  };
};
