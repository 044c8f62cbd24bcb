import type { Config } from '../config/schema.ts';
import { captionHeight } from './caption.ts';

/** Where picture, border and caption lie on the strip, in dots; paper travels downwards, `x` is across. */
export interface Layout {
  widthDots: number;
  heightDots: number;
  picture: Box;
  /** Thickness of the border's line, outside of everything but the caption; 0: none. */
  line: number;
  caption: Box | null;
  along: boolean;
}
export interface Box {
  x: number;
  y: number;
  width: number;
  height: number;
}

/** Line and white inside it. */
const borders = { none: [0, 0], line: [0.3, 0], frame: [0.4, 1.4] } as const;

export type LayoutSettings = Pick<Config['picture'], 'aspect' | 'along' | 'border' | 'caption'>;

/** A picture that is `aspect` as it is held, with its border and caption, on paper of `widthDots`. */
export const layOutPicture = (
  { aspect, along, border, caption }: LayoutSettings,
  widthDots: number,
  dotsPerMm: number,
): Layout => {
  const [lineMm, matMm] = borders[border];
  const line = Math.round(lineMm * dotsPerMm);
  const inset = line + Math.round(matMm * dotsPerMm);
  const words = caption === '' ? 0 : captionHeight(dotsPerMm);
  if (along) {
    // The picture's top is at the right: turned a quarter to the left it is upright, and its caption lies at the left.
    const width = widthDots - 2 * inset - words;
    const height = Math.max(1, Math.round(width * aspect));
    const heightDots = height + 2 * inset;
    return {
      widthDots,
      heightDots,
      line,
      along,
      picture: { x: words + inset, y: inset, width, height },
      caption: words ? { x: 0, y: 0, width: words, height: heightDots } : null,
    };
  }
  const width = widthDots - 2 * inset;
  const height = Math.max(1, Math.round(width / aspect));
  return {
    widthDots,
    heightDots: height + 2 * inset + words,
    line,
    along,
    picture: { x: inset, y: inset, width, height },
    caption: words ? { x: 0, y: height + 2 * inset, width: widthDots, height: words } : null,
  };
};
