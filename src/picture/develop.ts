import type { Profile } from '../config/profile.ts';
import type { Config, Look } from '../config/schema.ts';
import type { Caption, Dots } from '../parts/darkroom.ts';
import type { Frame } from '../parts/webcam.ts';
import { createFramer, type Framing } from './framing.ts';
import type { Bitmap } from './halftone/bits.ts';
import { halftoneOf } from './halftone/named.ts';
import { createSearch } from './halftone/search.ts';
import { layOutPicture } from './layout.ts';
import { type Luma, type Pixels, pixelsOf, pixelsOfLuma } from './luma.ts';
import { createPaper } from './paper.ts';
import { drawSurround, emptyDots, packRows } from './strip.ts';
import { createTone } from './tone.ts';
import { linearOf } from './transfer.ts';

export interface DevelopSettings {
  picture: Config['picture'];
  look: Look;
  profile: Pick<Profile, 'widthDots' | 'dotRadius' | 'toneCurve' | 'dotsPerMm'>;
  cameraName: string;
}

/** A picture on its way: rows get final from the top. */
export interface Development {
  readonly dots: Dots;
  /** Works on; says how many rows from the top are final. Done when that is the height. */
  step(): number;
}

export interface Developer {
  readonly widthDots: number;
  readonly heightDots: number;
  /** Frame to dots. Throws a `Fault` for a frame that can't be decoded. */
  develop(frame: Frame, caption: Caption): Dots;
  /** The same bit by bit, with the same result; one at a time, since buffers are shared. */
  begin(frame: Frame, caption: Caption): Development;
  /** Full-range luma to dots, for photos and scans. */
  developLuma(luma: Luma, caption: Caption): Dots;
  /** What the dots stand for: gamma-coded 0…255 after the look and before the halftone, paper's rows, no border. Shared. */
  toneOf(luma: Luma): Float32Array;
}

/** Each dot is looked at so often: a fourth time adds 0.04 dB on photographs and a quarter to the time. */
const searchPasses = 3;

/** Everything that can be reckoned before a picture is taken, and buffers that serve for all of them. */
export const createDeveloper = ({ picture, look, profile, cameraName }: DevelopSettings): Developer => {
  const layout = layOutPicture(picture, profile.widthDots, profile.dotsPerMm);
  const { width, height } = layout.picture;
  const framing: Framing = {
    rotate: Number(picture.rotate) as Framing['rotate'],
    mirror: picture.mirror,
    along: picture.along,
    widthDots: width,
    heightDots: height,
  };
  const count = width * height;
  const halftone = halftoneOf(look.halftone, look.grainDots);
  const { dotsForLight, inkForLight } = createPaper(profile, halftone);
  const search = look.halftone === 'search' ? createSearch(profile.dotRadius, profile.dotsPerMm, searchPasses) : null;
  const tone = createTone(width, height);
  const bitmap: Bitmap = { width, height, data: new Uint8Array(count) };
  const steps = dotsForLight.length - 1;
  /** Dots and ink straight from codes, in quarter codes. */
  const fine = 4;
  const lightOf = (i: number) => (linearOf(i / (255 * fine)) * steps + 0.5) | 0;
  const dotsForCode = Float32Array.from({ length: 255 * fine + 1 }, (_, i) => dotsForLight[lightOf(i)]);
  const inkForCode = Float32Array.from({ length: 255 * fine + 1 }, (_, i) => inkForLight[lightOf(i)]);
  let framer: { key: string; frame: (pixels: Pixels) => Float32Array } | null = null;

  const toneOfPixels = (pixels: Pixels): Float32Array => {
    const key = `${pixels.widthPx}×${pixels.heightPx}`;
    if (framer?.key !== key) framer = { key, frame: createFramer(framing, pixels.widthPx, pixels.heightPx) };
    tone.codes.set(framer.frame(pixels));
    tone.stretchLevels(look.levels);
    tone.equaliseLocally(look.localContrast);
    tone.sharpen(look.sharpen);
    tone.drawEdges(look.edges);
    tone.bend(look);
    return tone.codes;
  };

  const beginPixels = (pixels: Pixels, caption: Caption): Development => {
    toneOfPixels(pixels);
    halftone(tone.lookUp(dotsForCode, fine), bitmap);
    search?.begin(bitmap, tone.lookUp(inkForCode, fine));
    const dots = emptyDots(layout.widthDots, layout.heightDots);
    drawSurround(layout, dots, picture.caption, caption, cameraName, profile.dotsPerMm);
    let packed = 0;
    return {
      dots,
      step() {
        const final = search && packed < height ? search.step() : height;
        packRows(bitmap, dots, layout.picture.x, layout.picture.y, packed, final);
        packed = Math.max(packed, final);
        return packed === height ? layout.heightDots : layout.picture.y + packed;
      },
    };
  };

  const finish = (development: Development): Dots => {
    while (development.step() < layout.heightDots);
    return development.dots;
  };

  return {
    widthDots: layout.widthDots,
    heightDots: layout.heightDots,
    toneOf: luma => toneOfPixels(pixelsOfLuma(luma)),
    begin: (frame, caption) => beginPixels(pixelsOf(frame), caption),
    develop: (frame, caption) => finish(beginPixels(pixelsOf(frame), caption)),
    developLuma: (luma, caption) => finish(beginPixels(pixelsOfLuma(luma), caption)),
  };
};
