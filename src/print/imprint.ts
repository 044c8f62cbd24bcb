import type { Profile } from '../config/profile.ts';
import type { Config } from '../config/schema.ts';
import type { Dots } from '../parts/darkroom.ts';
import { pictureLengthMm } from '../roll/roll.ts';

/**
 * What a strip is found again by: in the white above and below each picture stand register marks (a ring around a
 * disc, 19 dots across, at both edges), below also a Code 128 symbol (ISO/IEC 15417) between them.
 * Bars run along the paper's travel, so that uneven feed doesn't harm them; a module is 2 dots wide, since one dot of
 * 8 dots/mm blooms too much and three would not fit 384 dots.
 */
export interface Imprint {
  /** Above every picture: marks and the white that sets them off. */
  head: Dots;
  /** Below picture `shot`: marks, code and white. */
  tail(shot: number): Dots;
}

export const imprintGeometry = {
  markDots: 19,
  /** White between mark and picture, both above and below, and between paper edge of the imprint and mark. */
  gapDots: 6,
  ringOuterDots: 9.5,
  ringInnerDots: 6.5,
  discDots: 3.5,
  moduleDots: 2,
  /** Quiet zone of ISO/IEC 15417: 10 modules. */
  quietModules: 10,
} as const;

/** Dot lines of white that stand in for the imprint below a picture without one. */
export const plainGapLines = 8;

/** Paper that a picture takes beside its own length, mm: marks above and below it, and its way to the tear edge. */
export const marginMm = (
  { dotsPerMm, tearMm }: { dotsPerMm: number; tearMm: number },
  { imprint }: { imprint: boolean },
): number => {
  const { markDots, gapDots } = imprintGeometry;
  return (imprint ? 2 * (markDots + 2 * gapDots) : plainGapLines) / dotsPerMm + tearMm;
};

/** Paper that a picture takes with its margin, mm, as configured: the first one measured says it better. */
export const pictureOnPaperMm = (profile: Profile, { picture, printer }: Config): number =>
  pictureLengthMm(profile, picture) + marginMm(profile, printer);

const highestShot = 999_999;

/** ISO/IEC 7064 MOD 97-10 over letters (A = 10 … Z = 35) and digits: two check digits as text. */
export const checkDigits = (text: string): string => {
  let rest = 0;
  for (const symbol of `${text}00`)
    for (const digit of parseInt(symbol, 36).toString()) rest = (rest * 10 + Number(digit)) % 97;
  return String(98 - rest).padStart(2, '0');
};

/** The text in the code: camera mark (1 to 4 of A–Z, 0–9), six digits of number, two check digits. */
export const imprintText = (mark: string, shot: number): string => {
  const text = `${mark}${String(shot % (highestShot + 1)).padStart(6, '0')}`;
  return text + checkDigits(text);
};

/** Reads what `imprintText` wrote; null when it is anything else or its check fails. */
export const readImprintText = (text: string): { mark: string; shot: number } | null => {
  const match = /^([A-Z0-9]{1,4})(\d{6})(\d{2})$/.exec(text);
  if (!match || checkDigits(match[1] + match[2]) !== match[3]) return null;
  return { mark: match[1], shot: Number(match[2]) };
};

const blank = (widthDots: number, heightDots: number): Dots => {
  const strideBytes = Math.ceil(widthDots / 8);
  return { widthDots, heightDots, strideBytes, data: new Uint8Array(strideBytes * heightDots) };
};

const ink = (dots: Dots, x: number, y: number) => {
  dots.data[y * dots.strideBytes + (x >> 3)] |= 0x80 >> (x & 7);
};

const drawMark = (dots: Dots, left: number, top: number) => {
  const { markDots, ringOuterDots, ringInnerDots, discDots } = imprintGeometry;
  const centre = (markDots - 1) / 2;
  for (let y = 0; y < markDots; y++)
    for (let x = 0; x < markDots; x++) {
      const radius = Math.hypot(x - centre, y - centre);
      if (radius < discDots || (radius < ringOuterDots && radius >= ringInnerDots)) ink(dots, left + x, top + y);
    }
};

const drawBars = (dots: Dots, widths: readonly number[], top: number) => {
  const { markDots, moduleDots } = imprintGeometry;
  const modules = widths.reduce((sum, width) => sum + width, 0);
  let x = Math.floor((dots.widthDots - modules * moduleDots) / 2);
  widths.forEach((width, index) => {
    for (const end = x + width * moduleDots; x < end; x++)
      if (index % 2 === 0) for (let y = 0; y < markDots; y++) ink(dots, x, top + y);
  });
};

/**
 * @param mark Camera mark, 1 to 4 of A–Z and 0–9.
 * @param encode Code 128 encoder: text to bar and space widths in modules, bar first.
 */
export const createImprint = ({
  widthDots,
  mark,
  encode,
}: {
  widthDots: number;
  mark: string;
  encode: (text: string) => readonly number[];
}): Imprint => {
  const { markDots, gapDots, moduleDots, quietModules } = imprintGeometry;
  const withMarks = (): Dots => {
    const dots = blank(widthDots, markDots + 2 * gapDots);
    drawMark(dots, 0, gapDots);
    drawMark(dots, widthDots - markDots, gapDots);
    return dots;
  };
  return {
    head: withMarks(),
    tail(shot) {
      const dots = withMarks();
      const widths = encode(imprintText(mark, shot));
      const needed = (widths.reduce((sum, width) => sum + width, 0) + 2 * quietModules) * moduleDots;
      // A head too narrow for the code (a desk's toy profile) still gets its marks.
      if (needed <= widthDots - 2 * markDots) drawBars(dots, widths, gapDots);
      return dots;
    },
  };
};
