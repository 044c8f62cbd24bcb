import type { Paper } from './paper.ts';

/** A stretch of paper as it lies on the page, in dots from the page's upper left corner. */
export interface Piece {
  from: number;
  to: number;
  left: number;
  top: number;
  /** Torn or cut here, or only continued in the next column. */
  startsTorn: boolean;
  endsTorn: boolean;
}

export interface Layout {
  pieces: Piece[];
  /** Width of the paper, and of its unprintable margin on each side. */
  paperDots: number;
  marginDots: number;
  widthDots: number;
  heightDots: number;
  /** Lines at the beginning that found no room. */
  omittedLines: number;
}

/** Unprintable paper beside the dots: 58 mm paper carries 48 mm, common practice, no source. */
const marginMm = 5;
const borderDots = 24;
const betweenDots = 20;

interface Block {
  from: number;
  to: number;
  startsTorn: boolean;
  endsTorn: boolean;
}

/** Where the paper may be parted: at tears, cuts and rolls, and in the white between two pictures. */
const blocksOf = (paper: Paper, from: number): Block[] => {
  const torn = new Set(paper.marks.map(({ line }) => line).filter(line => line > from && line < paper.length));
  const parts = new Set(torn);
  const pictures = paper.pictures();
  for (let i = 1; i < pictures.length; i++) {
    const [end, start] = [pictures[i - 1].to, pictures[i].from];
    if (![...torn].some(line => line >= end && line <= start) && end < start) parts.add(Math.floor((end + start) / 2));
  }
  // Bare paper between the last tear and the head isn't worth showing.
  const last = [...torn].reduce((latest, line) => Math.max(latest, line), from);
  const bareEnd = (pictures.at(-1)?.to ?? Number.POSITIVE_INFINITY) <= last;
  const lines = [
    from,
    ...[...parts].filter(line => line > from).sort((a, b) => a - b),
    ...(bareEnd ? [] : [paper.length]),
  ];
  return lines.slice(1).map((to, i) => ({
    from: lines[i],
    to,
    startsTorn: i === 0 || torn.has(lines[i]),
    endsTorn: i === lines.length - 2 || torn.has(to),
  }));
};

/** Lays the strip in columns, oldest first; where it is longer than `mostDots` square dots, only its end. */
export const layOut = (paper: Paper, mostDots: number): Layout => {
  const marginDots = Math.round(marginMm * paper.dotsPerMm);
  const paperDots = paper.widthDots + 2 * marginDots;
  const mostLines = Math.max(200, Math.floor(mostDots / (paperDots + betweenDots)));
  const from = Math.max(paper.firstKept, paper.length - mostLines);
  const blocks = blocksOf(paper, from);
  const lines = paper.length - from;
  const longest = Math.max(0, ...blocks.map(block => block.to - block.from));
  // One strip if it is short, else about as high as wide.
  const square = Math.ceil(Math.sqrt(lines * (paperDots + betweenDots)));
  const columnDots =
    lines <= 1600 ? lines + blocks.length * betweenDots : Math.max(square, Math.min(longest, 2 * square));

  const pieces: Piece[] = [];
  let left = borderDots;
  let top = borderDots;
  let heightDots = 0;
  const nextColumn = () => {
    left += paperDots + betweenDots;
    top = borderDots;
  };
  const put = (block: Block) => {
    const last = pieces.at(-1);
    if (block.startsTorn && last && top > borderDots) top += betweenDots;
    pieces.push({ ...block, left, top });
    top += block.to - block.from;
    heightDots = Math.max(heightDots, top);
  };
  for (const block of blocks) {
    if (top > borderDots && top - borderDots + (block.to - block.from) > columnDots) nextColumn();
    let rest = block;
    while (rest.to - rest.from > columnDots) {
      const cut = rest.from + columnDots;
      put({ ...rest, to: cut, endsTorn: false });
      nextColumn();
      rest = { ...rest, from: cut, startsTorn: false };
    }
    put(rest);
  }
  return {
    pieces,
    paperDots,
    marginDots,
    widthDots: left + paperDots + borderDots,
    heightDots: heightDots + borderDots,
    omittedLines: from - paper.firstKept,
  };
};
