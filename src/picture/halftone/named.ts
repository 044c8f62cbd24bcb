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

const makers: Readonly<Record<Look['halftone'], (grainDots: number) => Halftone>> = {
  // What the search starts from: enough wandering to leave it no rows and columns of dots, and no more grain than that.
  search: () => diffuseByLevel(0.5),
  'floyd-steinberg': () => diffuse(floydSteinberg),
  atkinson: () => diffuse(atkinson),
  'jarvis-judice-ninke': () => diffuse(jarvisJudiceNinke),
  stucki: () => diffuse(stucki),
  ostromoukhov: () => diffuseByLevel(0),
  'zhou-fang': () => diffuseByLevel(1),
  bayer: grainDots => ordered(bayerMatrix(8), grainDots),
  'void-and-cluster': grainDots => {
    blueNoise ??= voidAndCluster(64);
    return ordered(blueNoise, grainDots);
  },
  'clustered-dot': grainDots => ordered(clusteredDot(), grainDots),
  threshold: () => threshold,
};

/** A halftone by its name in the configuration; for the search, the one it starts from. */
export const halftoneOf = (name: Look['halftone'], grainDots: number): Halftone => makers[name](grainDots);
