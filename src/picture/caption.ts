import type { Caption } from '../parts/darkroom.ts';
import { glyphAdvance, glyphHeight, glyphsOf, glyphWidth } from './font.ts';
import type { Bitmap } from './halftone/bits.ts';

const two = (value: number): string => String(value).padStart(2, '0');

/**
 * The caption's words: `{number}`, `{date}` (ISO 8601), `{time}` (hours and minutes where the camera is) and `{camera}` are
 * filled in; date and time stay empty where the board doesn't know them.
 */
export const captionWords = (pattern: string, { shot, takenAtMs }: Caption, cameraName: string): string => {
  const at = takenAtMs === null ? null : new Date(takenAtMs);
  const values: Readonly<Record<string, string>> = {
    number: String(shot),
    date: at ? `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}` : '',
    time: at ? `${two(at.getHours())}:${two(at.getMinutes())}` : '',
    camera: cameraName,
  };
  return pattern
    .replace(/\{(\w+)\}/g, (whole, name: string) => values[name] ?? whole)
    .replace(/ {2,}/g, ' ')
    .trim();
};

/** Dots a dot of the letters at most, on paper of this resolution: letters are then about 3 mm high. */
const largestScale = (dotsPerMm: number): number => Math.max(1, Math.round((3 * dotsPerMm) / glyphHeight));

/** Height of the strip that a caption takes, white above it included, dots. */
export const captionHeight = (dotsPerMm: number): number => largestScale(dotsPerMm) * (glyphHeight + 2);

/** Draws one line of words, centred, as large as its width allows, into a bitmap of the caption's height. */
export const drawWords = (words: string, { width, height, data }: Bitmap, dotsPerMm: number): void => {
  data.fill(0);
  const glyphs = glyphsOf(words);
  const advance = glyphs.length * glyphAdvance - (glyphAdvance - glyphWidth);
  const scale = Math.max(1, Math.min(largestScale(dotsPerMm), Math.floor(width / advance)));
  const left = Math.max(0, (width - advance * scale) >> 1);
  const top = height - glyphHeight * scale;
  glyphs.forEach((rows, index) => {
    for (let y = 0; y < glyphHeight * scale; y++)
      for (let x = 0; x < glyphWidth * scale; x++) {
        const bit = (rows[Math.floor(y / scale)] >> (glyphWidth - 1 - Math.floor(x / scale))) & 1;
        const to = left + index * glyphAdvance * scale + x;
        if (bit && to < width) data[(top + y) * width + to] = 1;
      }
  });
};
