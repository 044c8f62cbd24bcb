import { chance } from '../random.ts';
import { darknessOf, dotRadiusOf } from './ink.ts';
import type { Layout, Piece } from './layout.ts';
import { layOut } from './layout.ts';
import type { Paper } from './paper.ts';
import type { PaletteImage } from './png.ts';
import { encodePalettePng } from './png.ts';

interface Place {
  leftPx: number;
  topPx: number;
  widthPx: number;
  heightPx: number;
}

export interface DrawnStrip extends PaletteImage {
  pxPerDot: number;
  /** Paper at the beginning that was left out because the picture would be too large. */
  omittedLines: number;
  /** Where a stretch of lines lies on the picture: the part of it in the column where it begins; null if left out. */
  place(from: number, to: number): Place | null;
  /** The picture as PNG. */
  png(): Uint8Array;
}

/** Palette: paper and ink from 0 (ink) to 239 (paper in full light), then the table it lies on and its shadow. */
const paperTop = 239;
const table = 240;
const shadow = 241;
const palette = new Uint8Array(242 * 3);
for (let i = 0; i <= paperTop; i++) {
  const t = i / paperTop;
  // Ink is a cold black, paper a slightly warm white.
  palette.set([36 + t * (252 - 36), 36 + t * (249 - 36), 41 + t * (240 - 41)].map(Math.round), i * 3);
}
palette.set([143, 139, 132, 118, 114, 108], table * 3);

const hash = (a: number, b: number): number => {
  let x = Math.imul(a, 0x9e3779b1) ^ Math.imul(b, 0x85ebca6b);
  x = Math.imul(x ^ (x >>> 15), 0x2c1b3c6d);
  return (x ^ (x >>> 13)) >>> 0;
};

/** A round dot as coverage 0…255 of the pixels around its cell; `reach` pixels to each side of the cell. */
const dotKernel = (radiusPx: number, pxPerDot: number) => {
  const reach = Math.max(0, Math.ceil(radiusPx - pxPerDot / 2));
  const side = pxPerDot + 2 * reach;
  const centre = side / 2;
  const fine = 8;
  const coverage = new Uint8Array(side * side);
  for (let y = 0; y < side; y++)
    for (let x = 0; x < side; x++) {
      let inside = 0;
      for (let v = 0; v < fine; v++)
        for (let u = 0; u < fine; u++)
          if (Math.hypot(x + (u + 0.5) / fine - centre, y + (v + 0.5) / fine - centre) < radiusPx) inside++;
      coverage[y * side + x] = Math.round((inside * 255) / (fine * fine));
    }
  return { reach, side, coverage };
};

const mostPixels = 36e6;
const scaleFor = (paper: Paper): number => {
  const dots = (paper.length - paper.firstKept) * (paper.widthDots + 100);
  return [3, 2].find(scale => dots * scale * scale <= mostPixels) ?? 1;
};

/** Ink of one piece, accumulated dot by dot: 0 none, 255 full. */
const inkPiece = (image: PaletteImage, paper: Paper, piece: Piece, layout: Layout, pxPerDot: number, seed: number) => {
  const kernels = new Map<number, ReturnType<typeof dotKernel>>();
  const kernelFor = (radius: number) => {
    const sixteenths = Math.round(radius * 16);
    const kernel = kernels.get(sixteenths) ?? dotKernel((sixteenths / 16) * pxPerDot, pxPerDot);
    kernels.set(sixteenths, kernel);
    return kernel;
  };
  const { widthPx, data } = image;
  const topPx = piece.top * pxPerDot;
  const endPx = (piece.top + piece.to - piece.from) * pxPerDot;
  for (let line = piece.from; line < piece.to; line++) {
    const { dots, drive, disturbed } = paper.line(line);
    if (!dots) continue;
    const jerk = disturbed ? (hash(line, seed) & 1 ? 0.5 : -0.5) * pxPerDot : 0;
    const darkness = darknessOf(drive) * (disturbed ? 0.72 : 1) * 235;
    const { reach, side, coverage } = kernelFor(dotRadiusOf(drive, paper.dotRadius));
    const y0 = (piece.top + line - piece.from) * pxPerDot - reach + Math.round(jerk);
    for (let byte = 0; byte < dots.length; byte++) {
      for (let rest = dots[byte]; rest !== 0; rest &= rest - 1) {
        const x = byte * 8 + 7 - (31 - Math.clz32(rest & -rest));
        const ink = Math.min(255, darkness * (0.94 + (hash(x, line ^ seed) & 3) * 0.035));
        const x0 = (piece.left + layout.marginDots + x) * pxPerDot - reach;
        for (let ky = 0; ky < side; ky++) {
          const y = y0 + ky;
          if (y < topPx || y >= endPx) continue;
          const at = y * widthPx + x0;
          for (let kx = 0; kx < side; kx++) {
            const cover = coverage[ky * side + kx];
            if (cover === 0) continue;
            const before = data[at + kx];
            data[at + kx] = before + Math.round(((255 - before) * cover * ink) / 65025);
          }
        }
      }
    }
  }
};

/** Draws the paper as a scanner at `pxPerDot` pixels a dot would see it, laid out in columns; the same for the same seed. */
export const drawStrip = (paper: Paper, seed: number, pxPerDot = scaleFor(paper)): DrawnStrip => {
  const layout = layOut(paper, mostPixels / (pxPerDot * pxPerDot));
  const widthPx = layout.widthDots * pxPerDot;
  const heightPx = Math.max(1, layout.heightDots * pxPerDot);
  const image: PaletteImage = { widthPx, heightPx, data: new Uint8Array(widthPx * heightPx) };
  const { data } = image;
  for (const piece of layout.pieces) inkPiece(image, paper, piece, layout, pxPerDot, seed);

  // Fibres: noise that is smooth along the row, from a table so that each pixel costs one look-up.
  const grainSize = 65_521;
  const grain = new Int8Array(grainSize);
  const luck = chance(seed).fork('grain');
  for (let i = 0, value = 0; i < grainSize; i++) {
    value = 0.8 * value + luck.normal() * 0.9;
    grain[i] = 2 * Math.round(Math.max(-4, Math.min(4, value)) / 2);
  }
  const onPaper = new Uint8Array(widthPx * heightPx);
  const edge = (column: number, salt: number) =>
    // A torn edge: a slow wander and a fast one, in pixels.
    Math.round(
      (((hash(column >> 4, salt) & 7) + (hash((column >> 4) + 1, salt) & 7)) / 4 + (hash(column, salt) & 1)) *
        0.6 *
        pxPerDot *
        0.5,
    );
  for (const { from, to, left, top, startsTorn, endsTorn } of layout.pieces) {
    const widthHere = layout.paperDots * pxPerDot;
    for (let x = 0; x < widthHere; x++) {
      const y0 = top * pxPerDot + (startsTorn ? edge(x, from + seed) : 0);
      const y1 = (top + to - from) * pxPerDot - (endsTorn ? edge(x, to + seed + 1) : 0);
      for (let y = y0; y < y1; y++) onPaper[y * widthPx + left * pxPerDot + x] = 1;
    }
  }
  const shadowPx = Math.max(1, Math.round(1.5 * pxPerDot));
  for (let y = 0; y < heightPx; y++) {
    const offset = hash(y, seed) % (grainSize - widthPx);
    for (let x = 0; x < widthPx; x++) {
      const at = y * widthPx + x;
      if (onPaper[at]) {
        const white = paperTop - 7 + grain[offset + x];
        data[at] = Math.max(0, Math.round(white - (white * data[at]) / 255));
      } else data[at] = x >= shadowPx && y >= shadowPx && onPaper[at - shadowPx * widthPx - shadowPx] ? shadow : table;
    }
  }

  return {
    ...image,
    pxPerDot,
    omittedLines: layout.omittedLines,
    place(from, to) {
      const piece = layout.pieces.find(p => from < p.to && to > p.from);
      if (!piece) return null;
      const [first, last] = [Math.max(from, piece.from), Math.min(to, piece.to)];
      return {
        leftPx: piece.left * pxPerDot,
        topPx: (piece.top + first - piece.from) * pxPerDot,
        widthPx: layout.paperDots * pxPerDot,
        heightPx: (last - first) * pxPerDot,
      };
    },
    png: () => encodePalettePng(image, palette, pxPerDot * paper.dotsPerMm * 25.4),
  };
};
