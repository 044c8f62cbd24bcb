import type { Profile } from '../config/profile.ts';
import type { Config, Look } from '../config/schema.ts';
import type { Caption, Dots } from '../parts/darkroom.ts';
import type { Frame } from '../parts/webcam.ts';
import { coverageOfPatterns, dotsForInk } from './dot-gain.ts';
import { createFramer, type Framing, sizeOf } from './framing.ts';
import { type Bitmap, type Halftone, packDots } from './halftone/bits.ts';
import {
  atkinson,
  diffuse,
  diffuseByLevel,
  floydSteinberg,
  jarvisJudiceNinke,
  stucki,
  threshold,
} from './halftone/diffusion.ts';
import { bayerMatrix, clusteredDot, ordered, voidAndCluster } from './halftone/ordered.ts';
import { createSearch } from './halftone/search.ts';
import { type Luma, lumaOf } from './luma.ts';
import { bendTone, drawEdges, equaliseLocally, sharpen, stretchLevels } from './tone.ts';
import { codeOfLinear, linearOf } from './transfer.ts';

export interface DevelopSettings {
  picture: Config['picture'];
  look: Look;
  profile: Pick<Profile, 'widthDots' | 'dotRadius' | 'toneCurve' | 'dotsPerMm'>;
  cameraName: string;
}

export interface Developer {
  readonly widthDots: number;
  readonly heightDots: number;
  /** Frame to dots. Throws a `Fault` for a frame that can't be decoded. */
  develop(frame: Frame, caption: Caption): Dots;
  /** The tone that the dots stand for: gamma-coded 0…255, after the look and before the halftone. */
  toneOf(luma: Luma): Float32Array;
  /** Dots of a tone as `toneOf` gives it. */
  screen(codes: Float32Array): Dots;
}

const searchPasses = 3;

/** A halftone by its name in the configuration. */
const halftoneOf = (name: Look['halftone'], grainDots: number): Halftone => {
  switch (name) {
    case 'floyd-steinberg':
      return diffuse(floydSteinberg);
    case 'atkinson':
      return diffuse(atkinson);
    case 'jarvis-judice-ninke':
      return diffuse(jarvisJudiceNinke);
    case 'stucki':
      return diffuse(stucki);
    case 'ostromoukhov':
      return diffuseByLevel(false);
    case 'zhou-fang':
    case 'search':
      return diffuseByLevel(true);
    case 'bayer':
      return ordered(bayerMatrix(8), grainDots);
    case 'void-and-cluster':
      return ordered(voidAndCluster(64), grainDots);
    case 'clustered-dot':
      return ordered(clusteredDot(), grainDots);
    case 'threshold':
      return threshold;
  }
};

/** Ink that a halftone really gives on paper for a share of dots, measured on flats of its own. */
const measureGain = (halftone: Halftone, radiusDots: number): ((dots: number) => number) => {
  const side = 64;
  const coverage = coverageOfPatterns(radiusDots);
  const bitmap: Bitmap = { width: side, height: side, data: new Uint8Array(side * side) };
  const levels = 33;
  const points = Array.from({ length: levels }, (_, level) => {
    halftone(new Float32Array(side * side).fill(level / (levels - 1)), bitmap);
    let sum = 0;
    for (let y = 1; y < side - 1; y++)
      for (let x = 1; x < side - 1; x++) {
        let pattern = 0;
        for (let dy = -1; dy <= 1; dy++)
          for (let dx = -1; dx <= 1; dx++) pattern = (pattern << 1) | bitmap.data[(y + dy) * side + x + dx];
        sum += coverage[pattern];
      }
    return sum / (side - 2) ** 2;
  });
  for (let i = 1; i < levels; i++) points[i] = Math.max(points[i], points[i - 1]);
  return dots => {
    const at = Math.min(levels - 1.000001, Math.max(0, dots * (levels - 1)));
    const i = Math.floor(at);
    return points[i] + (points[i + 1] - points[i]) * (at - i);
  };
};

/** Everything that can be reckoned before a picture is taken, and buffers that serve for all of them. */
export const createDeveloper = (settings: DevelopSettings): Developer => {
  const { picture, look, profile } = settings;
  const framing: Framing = {
    aspect: picture.aspect,
    rotate: Number(picture.rotate) as Framing['rotate'],
    mirror: picture.mirror,
    along: picture.along,
    widthDots: profile.widthDots,
  };
  const { widthDots: width, heightDots: height } = sizeOf(framing);
  const count = width * height;
  const halftone = halftoneOf(look.halftone, look.grainDots);
  const dots = dotsForInk(profile.toneCurve, measureGain(halftone, profile.dotRadius));
  const codes = new Float32Array(count);
  const work = new Float32Array(count);
  const bitmap: Bitmap = { width, height, data: new Uint8Array(count) };
  const search = look.halftone === 'search' ? createSearch(profile.dotRadius, profile.dotsPerMm) : null;
  const linearFine = Float32Array.from({ length: 1025 }, (_, i) => linearOf(i / 1024));
  let framer: { key: string; frame: (luma: Luma) => Float32Array } | null = null;

  const toneOf = (luma: Luma): Float32Array => {
    const key = `${luma.widthPx}×${luma.heightPx}`;
    if (framer?.key !== key) framer = { key, frame: createFramer(framing, luma.widthPx, luma.heightPx) };
    const light = framer.frame(luma);
    for (let i = 0; i < count; i++) codes[i] = codeOfLinear(light[i]);
    stretchLevels(codes, look.levels);
    equaliseLocally(codes, width, height, look.localContrast);
    sharpen(codes, width, height, look.sharpen, work);
    drawEdges(codes, width, height, look.edges, work);
    bendTone(codes, look);
    return codes;
  };

  const screen = (tone: Float32Array): Dots => {
    for (let i = 0; i < count; i++) {
      const ink = 1 - linearFine[(tone[i] * (1024 / 255) + 0.5) | 0];
      work[i] = dots[(ink * 1024 + 0.5) | 0];
    }
    halftone(work, bitmap);
    if (search) {
      for (let i = 0; i < count; i++) work[i] = linearFine[(tone[i] * (1024 / 255) + 0.5) | 0];
      search.refine(bitmap, work, searchPasses);
    }
    return packDots(bitmap);
  };

  return { widthDots: width, heightDots: height, toneOf, screen, develop: frame => screen(toneOf(lumaOf(frame))) };
};
