import type { Dots } from '../../src/parts/darkroom.ts';

type MarkKind = 'cut' | 'tear' | 'roll';

/** Something that happened to the paper at a dot line. */
interface PaperMark {
  line: number;
  atUs: number;
  kind: MarkKind;
}

interface PaperLine {
  /** Packed dots; null where the line was never under a working head. */
  dots: Uint8Array | null;
  /** Energy given over energy needed: 1 is nominal darkness. */
  drive: number;
  /** The paper stood or jerked here: visible as a band. */
  disturbed: boolean;
  /** When it was heated, µs. */
  atUs: number;
}

/** A stretch of lines that were printed without the printer coming to rest between commands. */
interface Stretch {
  from: number;
  /** The line after the last. */
  to: number;
}

interface Printed extends Stretch {
  /** First and last line heated, µs. */
  startUs: number;
  endUs: number;
  /** In order: a picture's body, its tail, whatever was sent in one go. */
  parts: Stretch[];
  disturbedLines: number;
}

/** The paper: dot lines, counted from its first edge; at the start that one lies at the tear edge. */
export interface Paper {
  readonly widthDots: number;
  readonly strideBytes: number;
  readonly dotsPerMm: number;
  readonly dotRadius: number;
  /** Dot lines from the heating line to the tear edge. */
  readonly tearDots: number;
  /** The line under the head now, and the number of lines that have been there. */
  readonly at: number;
  readonly length: number;
  /** Lines before this one are no longer known. */
  readonly firstKept: number;
  /** The last line that was heated; -1 before the first. */
  readonly lastHeated: number;
  readonly marks: readonly PaperMark[];
  line(index: number): PaperLine;
  /** Exact dots of a stretch; white where nothing was heated. */
  dots(from: number, to: number): Dots;
  /**
   * What was printed, in order: stretches set apart by white of `gapDots` lines or more that the paper travelled
   * without heat, or by a cut, a tear or a new roll.
   */
  pictures(gapDots?: number): Printed[];
}

export interface PaperUnderHead extends Paper {
  /** Heats the line under the head. `begins`: the printer was at rest before it. */
  heat(dots: Uint8Array, drive: number, disturbed: boolean, begins: boolean, atUs: number): void;
  move(lines: number): void;
  mark(kind: MarkKind, line: number, atUs: number): void;
}

const blockLines = 1024;
const heated = 1;
const disturbedFlag = 2;
const beginsFlag = 4;

interface Block {
  dots: Uint8Array;
  drive: Float32Array;
  atUs: Float64Array;
  flags: Uint8Array;
}

export interface PaperFigures {
  widthDots: number;
  dotsPerMm: number;
  dotRadius: number;
  tearMm: number;
}

/** Keeps the last `keepLines` lines at least, so that a party without end runs in constant memory. */
export const createPaper = (figures: PaperFigures, keepLines = 2_000_000): PaperUnderHead => {
  const { widthDots, dotsPerMm, dotRadius } = figures;
  const strideBytes = Math.ceil(widthDots / 8);
  const tearDots = Math.round(figures.tearMm * dotsPerMm);
  const lastByteMask = widthDots % 8 === 0 ? 0xff : (0xff00 >> (widthDots % 8)) & 0xff;
  const blocks = new Map<number, Block>();
  const marks: PaperMark[] = [];
  // Paper reaches to the tear edge before anything is printed.
  let at = tearDots;
  let length = tearDots;
  let firstKept = 0;
  let lastHeated = -1;

  const blockOf = (line: number): Block => {
    const index = Math.floor(line / blockLines);
    let block = blocks.get(index);
    if (!block) {
      block = {
        dots: new Uint8Array(blockLines * strideBytes),
        drive: new Float32Array(blockLines),
        atUs: new Float64Array(blockLines),
        flags: new Uint8Array(blockLines),
      };
      blocks.set(index, block);
    }
    return block;
  };
  const forgetOld = () => {
    const oldest = Math.max(0, Math.floor((length - keepLines) / blockLines));
    for (let index = Math.floor(firstKept / blockLines); index < oldest; index++) blocks.delete(index);
    firstKept = Math.max(firstKept, oldest * blockLines);
    while (marks.length > 0 && marks[0].line < firstKept) marks.shift();
  };
  const grow = (to: number) => {
    if (to <= length) return;
    const before = length;
    length = to;
    if (Math.floor(before / blockLines) !== Math.floor(length / blockLines)) forgetOld();
  };
  const flagsAt = (line: number) => blocks.get(Math.floor(line / blockLines))?.flags[line % blockLines] ?? 0;
  const timeAt = (line: number) => blocks.get(Math.floor(line / blockLines))?.atUs[line % blockLines] ?? 0;

  return {
    widthDots,
    strideBytes,
    dotsPerMm,
    dotRadius,
    tearDots,
    get at() {
      return at;
    },
    get length() {
      return length;
    },
    get firstKept() {
      return firstKept;
    },
    get lastHeated() {
      return lastHeated;
    },
    marks,
    heat(dots, drive, disturbed, begins, atUs) {
      const block = blockOf(at);
      const inBlock = at % blockLines;
      const start = inBlock * strideBytes;
      const { dots: all } = block;
      const last = Math.min(dots.length, strideBytes) - 1;
      // Paper that was fed back is heated a second time: ink stays.
      for (let i = 0; i < last; i++) all[start + i] |= dots[i];
      if (last >= 0) all[start + last] |= last === strideBytes - 1 ? dots[last] & lastByteMask : dots[last];
      if (drive > block.drive[inBlock]) block.drive[inBlock] = drive;
      block.atUs[inBlock] = atUs;
      lastHeated = Math.max(lastHeated, at);
      block.flags[inBlock] |= heated | (disturbed ? disturbedFlag : 0) | (begins ? beginsFlag : 0);
      grow(at + 1);
    },
    move(lines) {
      at = Math.max(firstKept, at + lines);
      grow(at);
    },
    mark(kind, line, atUs) {
      marks.push({ kind, line, atUs });
    },
    line(index) {
      const block = blocks.get(Math.floor(index / blockLines));
      const inBlock = index % blockLines;
      if (!block || !(block.flags[inBlock] & heated)) return { dots: null, drive: 0, disturbed: false, atUs: 0 };
      return {
        dots: block.dots.subarray(inBlock * strideBytes, (inBlock + 1) * strideBytes),
        drive: block.drive[inBlock],
        disturbed: (block.flags[inBlock] & disturbedFlag) !== 0,
        atUs: block.atUs[inBlock],
      };
    },
    dots(from, to) {
      const heightDots = Math.max(0, to - from);
      const data = new Uint8Array(heightDots * strideBytes);
      for (let line = from; line < to; line++) {
        const block = blocks.get(Math.floor(line / blockLines));
        const start = (line % blockLines) * strideBytes;
        if (block) data.set(block.dots.subarray(start, start + strideBytes), (line - from) * strideBytes);
      }
      return { widthDots, heightDots, strideBytes, data };
    },
    pictures(gapDots = Math.max(24, Math.round(tearDots * 0.75))) {
      const found: Printed[] = [];
      const breaks = marks.map(({ line }) => line).sort((a, b) => a - b);
      let nextBreak = 0;
      let current: Printed | null = null;
      for (let line = firstKept; line < length; line++) {
        let broken = false;
        while (nextBreak < breaks.length && breaks[nextBreak] <= line) {
          broken = true;
          nextBreak++;
        }
        if (broken) current = null;
        const flags = flagsAt(line);
        if (!(flags & heated)) continue;
        if (current && line - current.to >= gapDots) current = null;
        if (!current) {
          current = { from: line, to: line, startUs: timeAt(line), endUs: 0, parts: [], disturbedLines: 0 };
          found.push(current);
        }
        if (flags & beginsFlag || current.parts.length === 0) current.parts.push({ from: line, to: line + 1 });
        current.to = line + 1;
        current.parts[current.parts.length - 1].to = line + 1;
        current.endUs = timeAt(line);
        if (flags & disturbedFlag) current.disturbedLines++;
      }
      return found;
    },
  };
};
