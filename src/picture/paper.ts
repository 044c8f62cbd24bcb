import type { Profile } from '../config/profile.ts';
import { along, gainOf, tableOf, turned } from './dot-gain.ts';
import type { Halftone } from './halftone/bits.ts';
import { halftoneOf } from './halftone/named.ts';

/** How light is had on a printer's paper; tables over linear light 0…1, bare paper 1 and solid ink 0. */
export interface Paper {
  /** The share of dots to ask the halftone for. */
  dotsForLight: Float32Array;
  /** Ink on the model of round dots that gives this light on the real paper. */
  inkForLight: Float32Array;
}

/** The halftone of the patches of the step wedge, by which a printer's curve is measured. */
export const wedgeHalftone = (): Halftone => halftoneOf('zhou-fang', 1);

/**
 * @param profile Dot radius, and the curve measured by the step wedge where there is one. The curve was measured with one
 * halftone; what it says about another goes over the model: equal ink on the model is taken for equal ink on paper.
 */
export const createPaper = (
  { dotRadius, toneCurve }: Pick<Profile, 'dotRadius' | 'toneCurve'>,
  halftone: Halftone,
): Paper => {
  const dotsForModel = turned(gainOf(halftone, dotRadius));
  let modelInk = (ink: number) => ink;
  if (toneCurve.length >= 2) {
    const dotsForInk = turned(toneCurve);
    const wedge = gainOf(wedgeHalftone(), dotRadius);
    modelInk = ink => along(wedge, along(dotsForInk, ink));
  }
  return {
    dotsForLight: tableOf(light => along(dotsForModel, modelInk(1 - light))),
    inkForLight: tableOf(light => modelInk(1 - light)),
  };
};
