import { foldLines } from '../../src/fold.ts';
import { faults } from '../faults.ts';
import type { Paper } from '../paper/paper.ts';
import { type LiveDesk, mishaps, type Standing } from './desk.ts';

/** One character is 2 × 4 points of Braille, each point a square of `shrink` dots. */
const shrink = 4;
/** Share of a square's dots that makes a point black, for each place in a 2 × 2 pattern: tones survive the shrinking. */
const limits = [
  [0.2, 0.6],
  [0.8, 0.4],
];
const points = [
  [0x01, 0x08],
  [0x02, 0x10],
  [0x04, 0x20],
  [0x40, 0x80],
];

const ones = (byte: number): number => {
  let count = 0;
  for (let rest = byte; rest > 0; rest &= rest - 1) count++;
  return count;
};

/** Black dots of a square whose left edge is a multiple of four. */
const inkAt = (paper: Paper, x: number, line: number): number => {
  let black = 0;
  for (let y = line; y < line + shrink; y++) {
    const dots = y < paper.at ? paper.line(y).dots : null;
    if (dots) black += ones((dots[x >> 3] >> (x & 4 ? 0 : 4)) & 15);
  }
  return black / (shrink * shrink);
};

/** The end of the paper as rows of Braille characters, the newest line at the bottom. */
export const paperInBraille = (paper: Paper, rows: number): string[] => {
  const columns = Math.ceil(paper.widthDots / (2 * shrink));
  const linesARow = 4 * shrink;
  const bottom = Math.ceil(paper.at / linesARow) * linesARow;
  return Array.from({ length: rows }, (_, row) => {
    const top = bottom - (rows - row) * linesARow;
    if (top < 0) return ' '.repeat(columns);
    let text = '';
    for (let column = 0; column < columns; column++) {
      let mask = 0;
      for (let y = 0; y < 4; y++)
        for (let x = 0; x < 2; x++)
          if (inkAt(paper, (column * 2 + x) * shrink, top + y * shrink) > limits[y & 1][x & 1]) mask |= points[y][x];
      text += mask === 0 ? ' ' : String.fromCharCode(0x2800 + mask);
    }
    return text;
  });
};

const bold = (text: string) => `\x1b[1m${text}\x1b[22m`;
const dim = (text: string) => `\x1b[2m${text}\x1b[22m`;
const amber = (text: string) => `\x1b[33m${text}\x1b[39m`;
const red = (text: string) => `\x1b[31m${text}\x1b[39m`;
/** The paper is dark on light in any terminal. */
const onPaper = (text: string) => `\x1b[38;2;40;38;42;48;2;250;246;236m${text}\x1b[0m`;

/** Escape sequences, which take no room, or single characters. */
// biome-ignore lint/suspicious/noControlCharactersInRegex: a terminal is told by them
const pieces = /\u001b\[[0-9;]*m|[\s\S]/gu;
const padded = (text: string, width: number): string => {
  let room = width;
  let out = '';
  for (const [piece] of text.matchAll(pieces)) {
    if (piece.length > 1 && piece.startsWith('\u001b')) out += piece;
    else if (room-- > 0) out += piece;
  }
  return out + ' '.repeat(Math.max(0, room));
};

// biome-ignore lint/suspicious/noControlCharactersInRegex: a terminal is told by them
const lengthOf = (text: string): number => text.replace(/\u001b\[[0-9;]*m/g, '').length;

/** Groups of words in lines of at most `width` characters; a group stays in one line. */
const wrapped = (groups: readonly string[], width: number): string[] => {
  const lines: string[] = [];
  for (const group of groups) {
    const last = lines.at(-1);
    if (last !== undefined && lengthOf(last) + 2 + lengthOf(group) <= width)
      lines[lines.length - 1] = `${last}  ${group}`;
    else lines.push(group);
  }
  return lines;
};

const keyWords = ['space press', 'm hold', 't tear off', 'r new roll', 'q quit'];
/** With fewer rows than this only what matters most is shown. */
const roomyRows = 34;

const sideLines = (now: Standing, said: readonly string[], url: string, rows: number, width: number): string[] => {
  const motor = ['◁ out', 'still', 'in ▷'][now.motor + 1];
  const roomy = rows >= roomyRows;
  const gap = roomy ? [''] : [];
  const states = Object.entries(now.states ?? {}).filter(
    ([region]) => roomy || ['exposure', 'output'].includes(region),
  );
  const head = [
    ...foldLines(now.means, width - 2).map(
      (line, i) => `${i > 0 ? ' ' : now.lamp ? amber('●') : dim('○')} ${bold(line)}`,
    ),
    ...gap,
    ...wrapped(
      [
        `coil ${now.coil ? amber('▮') : '▯'}`,
        `blades ${now.blades ? 'across' : 'clear'}`,
        `motor ${motor}`,
        `roll ${(now.rollMm / 1000).toFixed(2)} m`,
        `head ${now.headC.toFixed(1)} °C`,
      ],
      width,
    ),
    ...(now.alive ? states.map(([region, state]) => `${dim(region.padEnd(9))} ${state}`) : [red('no power')]),
    ...gap,
    ...mishaps.map(({ name, key }) => {
      const text = `${key}  ${faults[name].what}`;
      return now.wrong.includes(name) ? red(bold(text)) : dim(text);
    }),
    ...gap,
    ...wrapped(keyWords, width),
    dim(url),
    ...gap,
  ];
  const room = rows - head.length;
  return room > 0 ? [...head, ...said.slice(-room)] : head;
};

export interface Screen {
  columns: number;
  rows: number;
  write(text: string): void;
}

export interface LiveTerminal {
  draw(): void;
  /** A key as the terminal gives it; true: the person wants to leave. */
  key(text: string): boolean;
  close(): void;
}

/** A tap of the space bar is a press of this length, a hold one that is long enough for any setting. */
const tapMs = 120;
const holdMs = 2500;

/** The desk in a terminal: paper on the left, lamp, states, mishaps and log on the right. */
export const createLiveTerminal = (desk: LiveDesk, screen: Screen, url: string): LiveTerminal => {
  const read = desk.reader();
  const said: string[] = [];
  let shown: string[] = [];
  screen.write('\x1b[?1049h\x1b[?25l\x1b[2J');
  return {
    draw() {
      for (const { event, atUs = 0, shot, why } of read().log) {
        said.push(
          `${(atUs / 1e6).toFixed(1).padStart(7)}  ${event}${shot === undefined ? '' : ` ${shot}`}${why === undefined ? '' : `: ${why}`}`,
        );
        if (said.length > 100) said.shift();
      }
      const rows = Math.max(10, screen.rows);
      const now = desk.standing();
      const paperRows = paperInBraille(desk.paper, rows - 2);
      const width = paperRows[0].length + 2;
      const sideWidth = Math.max(1, screen.columns - width - 3);
      const side = sideLines(now, said, url, rows - 1, sideWidth);
      const lines = Array.from({ length: rows - 1 }, (_, i) => {
        const slot = i === rows - 2;
        const left = slot ? '▀'.repeat(width) : onPaper(` ${paperRows[i]} `);
        return `${left}  ${padded(side[i] ?? '', sideWidth)}`;
      });
      lines.forEach((line, i) => {
        if (line !== shown[i]) screen.write(`\x1b[${i + 1};1H${line}\x1b[K`);
      });
      shown = lines;
    },
    key(text) {
      for (const key of text) {
        if (key === 'q' || key === '\x03') return true;
        if (key === ' ') desk.tap(tapMs);
        else if (key === 'm') desk.tap(holdMs);
        else if (key === 't') desk.tear();
        else if (key === 'r') desk.newRoll();
        else {
          const mishap = mishaps.find(one => one.key === key);
          if (mishap) desk.toggle(mishap.name);
        }
      }
      return false;
    },
    close: () => screen.write('\x1b[0m\x1b[?25h\x1b[?1049l'),
  };
};
