import type { Profile } from '../config/profile.ts';
import type { Dots } from '../parts/darkroom.ts';
import { motorLineUs } from './head.ts';
import * as language from './language.ts';
import type { Wire } from './pace.ts';
import { concat } from './planner.ts';
import { type Band, layOut, layOutStripes } from './rows.ts';
import type { Pieces } from './slow.ts';

/** Rows in one command: chunks of 24 to 64 rows are the safest (common practice, no source). */
const safeRows = 64;
/** White that is fed: below this a command of its own disturbs more than it saves. */
const feedFrom = 8;

/** Bytes of a block of stored graphics beside its dots. */
export const blockBytes = language.storeGraphicsOverhead + language.printGraphics().length;

/** Bytes of the rows of the longest image command that we send. */
export const longestCommand = (profile: Profile, wire: Wire): number[] =>
  Array<number>(rowsInCommand(profile, wire)).fill(Math.ceil(profile.widthDots / 8));

const columnRows = 24;
/** Between commands alone a printer can be asked how it is; nobody opens and shuts a lid in less than two seconds. */
const unaskedUs = 1_250_000;

/** Rows of one image command: as many as is safe, as keeps the print going, and as lets it be asked in time. */
export const rowsInCommand = (profile: Profile, wire: Wire): number => {
  const { image, rasterRows, status } = profile.commands;
  if (image === 'column') return columnRows;
  const rowBytes = Math.ceil(profile.widthDots / 8);
  const rowUs = rowBytes * wire.byteUs;
  const inTime = status === 'polled' ? Math.max(1, Math.floor(unaskedUs / rowUs)) : Number.POSITIVE_INFINITY;
  const rows = Math.min(rasterRows, safeRows, inTime);
  if (image === 'raster') return rows;
  // Stored graphics are read whole before they are printed. Where the wire is fast, the next ones must fit the buffer
  // while these print; where it is slow, the paper stands after each command, so that few and long ones are better.
  if (rowUs > motorLineUs(profile)) return Math.min(rasterRows, Math.floor(65_525 / rowBytes), inTime);
  const fit = Math.floor((wire.roomBytes - blockBytes) / rowBytes);
  return Math.max(1, Math.min(rows, fit));
};

/** Bands of a picture as this printer's image commands take them. */
export const bandsOf = (dots: Dots, profile: Profile, wire: Wire): Band[] =>
  profile.commands.image === 'column'
    ? layOutStripes(dots, columnRows)
    : layOut(dots, rowsInCommand(profile, wire), feedFrom);

type Rows = Extract<Band, { kind: 'rows' }>;

const cropped = (dots: Dots, { first, rows, widthBytes }: Rows): Uint8Array => {
  const { strideBytes, data } = dots;
  if (widthBytes === strideBytes) return data.subarray(first * strideBytes, (first + rows) * strideBytes);
  const cut = new Uint8Array(rows * widthBytes);
  for (let y = 0; y < rows; y++)
    cut.set(data.subarray((first + y) * strideBytes, (first + y) * strideBytes + widthBytes), y * widthBytes);
  return cut;
};

/** 24 rows as columns of three bytes, topmost dot first; rows that the band lacks are white. */
const asColumns = (data: Uint8Array, widthBytes: number, rows: number): Uint8Array => {
  const columns = new Uint8Array(widthBytes * 8 * 3);
  for (let y = 0; y < rows; y++)
    for (let x = 0; x < widthBytes * 8; x++)
      if (data[y * widthBytes + (x >> 3)] & (0x80 >> (x & 7))) columns[x * 3 + (y >> 3)] |= 0x80 >> (y & 7);
  return columns;
};

/** The commands that print a band: row by row as they are read, or read whole and then printed. */
export const piecesOf = (dots: Dots, band: Rows, unbroken: boolean, image: Profile['commands']['image']): Pieces => {
  const data = cropped(dots, band);
  const { widthBytes, rows, lines, black } = band;
  if (image === 'raster') {
    const header = language.rasterHeader(widthBytes, rows);
    const sizes = new Int32Array(rows).fill(widthBytes);
    sizes[0] += header.length;
    return { bytes: concat([header, data]), sizes, black, rowsEach: 1, linesEach: 1, unbroken };
  }
  const bytes =
    image === 'graphics'
      ? concat([language.storeGraphics(widthBytes * 8, rows, data), language.printGraphics()])
      : concat([language.columns24(widthBytes * 8, asColumns(data, widthBytes, rows)), language.feedUnits(lines)]);
  return { bytes, sizes: Int32Array.of(bytes.length), black, rowsEach: rows, linesEach: lines, unbroken };
};
