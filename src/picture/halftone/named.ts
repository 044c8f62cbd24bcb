import type { Look } from '../../config/schema.ts';
import type { Halftone } from './bits.ts';
import {
  atkinson,
  diffuse,
  diffuseByLevel,
  floydSteinberg,
  jarvisJudiceNinke,
  stucki,
  threshold,
} from './diffusion.ts';
import { bayerMatrix, clusteredDot, ordered, voidAndCluster } from './ordered.ts';

/** Void and cluster takes a while to lay out. */
let blueNoise: Uint16Array | null = null;

const makers: Readonly<Record<Exclude<Look['halftone'], 'search'>, (grainDots: number) => Halftone>> = {
  'floyd-steinberg': () => diffuse(floydSteinberg),
  atkinson: () => diffuse(atkinson),
  'jarvis-judice-ninke': () => diffuse(jarvisJudiceNinke),
  stucki: () => diffuse(stucki),
  ostromoukhov: () => diffuseByLevel(false),
  'zhou-fang': () => diffuseByLevel(true),
  bayer: grainDots => ordered(bayerMatrix(8), grainDots),
  'void-and-cluster': grainDots => {
    blueNoise ??= voidAndCluster(64);
    return ordered(blueNoise, grainDots);
  },
  'clustered-dot': grainDots => ordered(clusteredDot(), grainDots),
  threshold: () => threshold,
};

/**
 * A halftone by its name in the configuration; for the search, the one it starts from: Zhou and Fang's wandering
 * threshold leaves the search no rows and columns of dots to keep. Others end 0.2 dB higher, with streaks in even tones.
 */
export const halftoneOf = (name: Look['halftone'], grainDots: number): Halftone =>
  makers[name === 'search' ? 'zhou-fang' : name](grainDots);
