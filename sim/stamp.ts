import { pixelsOf } from '../src/picture/luma.ts';
import type { Develop } from './darkroom.ts';
import type { Paper } from './paper/paper.ts';
import type { Scene } from './view.ts';

/**
 * Pictures that say of themselves when they were taken: the scene shows the time in black and white cells, developing
 * turns it into rows of dots that each carry it, and it can be read off the paper again. So a party's pictures are told
 * apart by what is on paper alone, without the camera's word.
 */

/** Cells across and down: 32 of time, 8 of check, the rest white for reference. */
const across = 8;
const down = 6;
const sync = 0xa5;
/** Rows of one picture. */
export const stampRows = 16;

const checkOf = (bytes: readonly number[]): number => {
  let check = 0x5a;
  for (const byte of bytes) check = ((check << 1) ^ (check >> 7) ^ byte) & 0xff;
  return check;
};
const bytesOf = (ms: number): number[] => [(ms >>> 24) & 0xff, (ms >>> 16) & 0xff, (ms >>> 8) & 0xff, ms & 0xff];

export const createStampScene = (): Scene => ({
  noise: 0,
  metered: false,
  brightness: () => 0.18,
  look(atUs, widthPx, heightPx, into) {
    const bytes = bytesOf(Math.floor(atUs / 1000) >>> 0);
    bytes.push(checkOf(bytes));
    for (let y = 0; y < heightPx; y++) {
      const row = Math.floor((y * down) / heightPx);
      for (let x = 0; x < widthPx; x++) {
        const column = Math.floor((x * across) / widthPx);
        into[y * widthPx + x] = row === down - 1 || (bytes[row] >> (7 - column)) & 1 ? 1 : 0;
      }
    }
  },
});

/** A frame of the scene above, by its luma, as rows: sync, time, brightness of white, row, check. */
export const developStamp =
  (widthDots: number): Develop =>
  frame => {
    const { widthPx, heightPx } = frame;
    const { data, strideBytes } = frame.format === 'MJPEG' ? pixelsOf(frame) : frame;
    const step = frame.format === 'YUYV' ? 2 : 1;
    const cell = (row: number, column: number): number => {
      const y = Math.floor(((row + 0.5) * heightPx) / down);
      const x = Math.floor(((column + 0.5) * widthPx) / across);
      const code = data[y * strideBytes + x * step];
      return frame.range === 'limited' ? Math.round(((code - 16) * 255) / 219) : code;
    };
    let white = 255;
    for (let column = 0; column < across; column++) white = Math.min(white, cell(down - 1, column));
    const time = [0, 1, 2, 3].map(row => {
      let byte = 0;
      for (let column = 0; column < across; column++) byte = (byte << 1) | (cell(row, column) * 2 > white ? 1 : 0);
      return byte;
    });
    const strideOut = Math.ceil(widthDots / 8);
    const out = new Uint8Array(strideOut * stampRows);
    for (let row = 0; row < stampRows; row++) {
      const bytes = [...time, white, row];
      for (const [i, byte] of [sync, ...bytes, checkOf(bytes)].entries()) out[row * strideOut + i] = byte;
    }
    return { widthDots, heightDots: stampRows, strideBytes: strideOut, data: out };
  };

/** Something found on the paper, from line `from` on, `lines` long. */
export type PaperFind =
  | { kind: 'picture'; from: number; lines: number; takenMs: number; whole: boolean; white: number; disturbed: boolean }
  /** Ink that is no picture: marks and codes. */
  | { kind: 'ink'; from: number; lines: number };

/** Reads the paper from `firstLine` on. White lines set inks apart; pictures are told by their rows. */
export const readStamps = (paper: Paper, firstLine = 0): PaperFind[] => {
  const found: PaperFind[] = [];
  let expectRow = -1;
  for (let at = Math.max(firstLine, paper.firstKept); at < paper.length; at++) {
    const { dots, disturbed } = paper.line(at);
    const last = found.at(-1);
    if (!dots?.some(byte => byte !== 0)) {
      expectRow = -1;
      continue;
    }
    const [s, a, b, c, d, white, row, check] = dots;
    const isStamp = s === sync && row < stampRows && check === checkOf([a, b, c, d, white, row]);
    if (!isStamp) {
      if (last?.kind === 'ink' && last.from + last.lines === at) last.lines++;
      else found.push({ kind: 'ink', from: at, lines: 1 });
      expectRow = -1;
      continue;
    }
    const takenMs = ((a << 24) | (b << 16) | (c << 8) | d) >>> 0;
    if (last?.kind === 'picture' && row === expectRow && last.takenMs === takenMs && last.white === white) {
      last.lines++;
      last.disturbed ||= disturbed;
      last.whole = row === stampRows - 1 && last.lines === stampRows;
    } else found.push({ kind: 'picture', from: at, lines: 1, takenMs, whole: false, white, disturbed });
    expectRow = row + 1;
  }
  return found;
};
