import type { Profile } from '../config/profile.ts';
import type { Dots } from '../parts/darkroom.ts';
import { bayerMatrix } from '../picture/halftone/ordered.ts';

const rulerLines = 32;
const stepLines = 24;
const gapLines = 8;

/**
 * The test pattern: a ruler across (a tick every 8 dots, longer ones every 40 and 80, edges marked), a ladder of lines
 * with more and more dots heated at once (its paper slows down step by step; a step that is banded or pale is one that
 * the head can't do), and a ladder of tones in eighths.
 */
export const testPattern = ({ widthDots }: Pick<Profile, 'widthDots'>): Dots => {
  const strideBytes = (widthDots + 7) >> 3;
  const rows: Uint8Array[] = [];
  const line = (inked: (x: number) => boolean) => {
    const row = new Uint8Array(strideBytes);
    for (let x = 0; x < widthDots; x++) if (inked(x)) row[x >> 3] |= 0x80 >> (x & 7);
    rows.push(row);
  };
  const white = (lines: number) => {
    for (let i = 0; i < lines; i++) line(() => false);
  };

  for (let y = 0; y < rulerLines; y++)
    line(x => {
      if (x === 0 || x === widthDots - 1) return true;
      const reach = x % 80 === 0 ? rulerLines : x % 40 === 0 ? 22 : x % 8 === 0 ? 12 : 0;
      return y < reach;
    });
  white(gapLines);
  // One eighth of the width more with each step, all of it in one piece: the most at once that a line can ask for.
  for (let eighth = 1; eighth <= 8; eighth++)
    for (let y = 0; y < stepLines; y++) line(x => x < (widthDots * eighth) / 8);
  white(gapLines);
  const rank = bayerMatrix(8);
  for (let y = 0; y < 2 * stepLines; y++)
    line(x => {
      const tone = Math.floor((x * 9) / widthDots) / 8;
      return rank[(y & 7) * 8 + (x & 7)] < tone * 64;
    });
  white(gapLines);
  const data = new Uint8Array(strideBytes * rows.length);
  rows.forEach((row, y) => {
    data.set(row, y * strideBytes);
  });
  return { widthDots, heightDots: rows.length, strideBytes, data };
};
