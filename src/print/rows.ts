import { blackDots } from '../parts/black-dots.ts';
import type { Dots } from '../parts/darkroom.ts';

/** A stretch of a picture that is sent in one command, or a stretch of white that is only fed. */
export type Band =
  | { kind: 'feed'; lines: number }
  | {
      kind: 'rows';
      first: number;
      rows: number;
      /** Dot lines that the paper moves; more than there are rows where a command prints a height of its own. */
      lines: number;
      /** Bytes of each row up to the last black one in the band. */
      widthBytes: number;
      /** Black dots, row by row. */
      black: Int32Array;
    };

/** Pictures under each other on rows of `strideBytes`. A picture wider than that can't be printed. */
export const stack = (pages: readonly Dots[], strideBytes: number): Dots => {
  const heightDots = pages.reduce((sum, page) => sum + page.heightDots, 0);
  const data = new Uint8Array(heightDots * strideBytes);
  let row = 0;
  for (const page of pages) {
    if (page.strideBytes > strideBytes)
      throw new RangeError(`a picture of ${page.widthDots} dots doesn't fit ${strideBytes * 8} dots of head`);
    if (page.strideBytes === strideBytes)
      data.set(page.data.subarray(0, page.heightDots * strideBytes), row * strideBytes);
    else
      for (let y = 0; y < page.heightDots; y++)
        data.set(page.data.subarray(y * page.strideBytes, (y + 1) * page.strideBytes), (row + y) * strideBytes);
    row += page.heightDots;
  }
  return { widthDots: strideBytes * 8, heightDots, strideBytes, data };
};

/** Black dots of each row. */
const blackRows = ({ heightDots, strideBytes, data }: Dots): Int32Array => {
  const black = new Int32Array(heightDots);
  for (let y = 0; y < heightDots; y++) black[y] = blackDots(data, y * strideBytes, (y + 1) * strideBytes);
  return black;
};

const rowsBand = (dots: Dots, black: Int32Array, first: number, rows: number, lines = rows): Band => {
  const { strideBytes, data } = dots;
  let widthBytes = 1;
  for (let y = first; y < first + rows; y++) {
    let x = strideBytes;
    while (x > widthBytes && data[y * strideBytes + x - 1] === 0) x--;
    widthBytes = x;
  }
  return { kind: 'rows', first, rows, lines, widthBytes, black: black.subarray(first, first + rows) };
};

/**
 * Cuts a picture into bands of `rowsAtMost` rows, and turns white of `feedFrom` lines or more into feed. White before
 * the first black row and after the last is always fed.
 */
export const layOut = (dots: Dots, rowsAtMost: number, feedFrom: number): Band[] => {
  const { heightDots } = dots;
  const black = blackRows(dots);
  const bands: Band[] = [];
  const addRows = (from: number, to: number) => {
    for (let first = from; first < to; first += rowsAtMost)
      bands.push(rowsBand(dots, black, first, Math.min(rowsAtMost, to - first)));
  };
  let from = 0;
  for (let y = 0; y < heightDots; ) {
    let end = y;
    while (end < heightDots && black[end] === 0) end++;
    const white = end - y;
    if (white > 0 && (white >= feedFrom || y === 0 || end === heightDots)) {
      addRows(from, y);
      bands.push({ kind: 'feed', lines: white });
      from = end;
    }
    y = Math.max(end, y + 1);
  }
  addRows(from, heightDots);
  return bands;
};

/**
 * The same for commands that always print `height` lines: each band begins at a black row, and the last may reach beyond
 * the picture.
 */
export const layOutStripes = (dots: Dots, height: number): Band[] => {
  const { heightDots } = dots;
  const black = blackRows(dots);
  const bands: Band[] = [];
  for (let y = 0; y < heightDots; ) {
    let first = y;
    while (first < heightDots && black[first] === 0) first++;
    if (first > y) bands.push({ kind: 'feed', lines: first - y });
    if (first < heightDots) bands.push(rowsBand(dots, black, first, Math.min(height, heightDots - first), height));
    y = first + height;
  }
  return bands;
};
