import type { Paper } from '../../sim/paper/paper.ts';
import type { Dots } from '../../src/parts/darkroom.ts';
import { encodeCode128 } from '../../src/print/code128.ts';
import { createImprint } from '../../src/print/imprint.ts';

const textOf = (row: Uint8Array | null): string => (row === null ? '' : Buffer.from(row).toString('latin1'));
const rowsOf = ({ data, strideBytes, heightDots }: Dots): string[] =>
  Array.from({ length: heightDots }, (_, y) => textOf(data.subarray(y * strideBytes, (y + 1) * strideBytes)));

/** Something whole on the paper: the dots of a picture, or the tail that bears its number. */
export interface Find {
  kind: 'body' | 'tail';
  shot: number;
  from: number;
  to: number;
}

export interface PaperRead {
  finds: Find[];
  /** How often each picture is there whole with its own tail after it. */
  times: Map<number, number>;
}

/**
 * What stands on the paper, by its dots alone: bodies are found by the dots that the album keeps of each picture, tails
 * by the whole imprint. A body counts when its tail is the next whole thing after it and the paper then went on to the tear edge.
 */
export const readPaper = (paper: Paper, mark: string, dotsOf: ReadonlyMap<number, Dots>): PaperRead => {
  const rows = Array.from({ length: paper.length }, (_, line) => textOf(paper.line(line).dots));
  const imprint = createImprint({ widthDots: paper.widthDots, mark, encode: encodeCode128 });
  const isWhite = (row: string) => /^\0*$/.test(row);
  const finds: Find[] = [];
  const look = (kind: Find['kind'], shot: number, dots: Dots) => {
    const wanted = rowsOf(dots);
    while (wanted.length > 0 && isWhite(wanted[0])) wanted.shift();
    while (wanted.length > 0 && isWhite(wanted[wanted.length - 1])) wanted.pop();
    for (let from = rows.indexOf(wanted[0]); from >= 0; from = rows.indexOf(wanted[0], from + 1))
      if (wanted.every((row, i) => rows[from + i] === row)) finds.push({ kind, shot, from, to: from + wanted.length });
  };
  for (const [shot, dots] of dotsOf) {
    look('body', shot, dots);
    look('tail', shot, imprint.tail(shot));
  }
  finds.sort((a, b) => a.from - b.from);

  const times = new Map<number, number>();
  let open: number | null = null;
  for (const [i, { kind, shot, to }] of finds.entries()) {
    if (kind === 'body') open = shot;
    else {
      const presented = (finds[i + 1]?.from ?? paper.at) - to >= paper.tearDots;
      if (open !== shot || !presented) continue;
      times.set(shot, (times.get(shot) ?? 0) + 1);
      open = null;
    }
  }
  return { finds, times };
};
