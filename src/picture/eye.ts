/**
 * What the eye makes of dots: the dual-Gaussian model of its autocorrelation, 43.2·e^(−r²/2·0.0219²) + 38.7·e^(−r²/2·0.0598²),
 * r in degrees (Kim and Allebach, 2002; constants as they are quoted, the paper itself was not read).
 */
const terms = [
  { weight: 43.2, sigmaDegrees: 0.0219 },
  { weight: 38.7, sigmaDegrees: 0.0598 },
] as const;

/** A print of a few centimetres is held at this distance (common practice, no source). */
export const viewingMm = 300;

export const degreesPerDot = (dotsPerMm: number): number => (Math.atan(1 / dotsPerMm / viewingMm) * 180) / Math.PI;

export interface Gaussian {
  weight: number;
  sigmaDots: number;
}

/** The model's two parts in dots; their weights sum to 1. */
export const eyeGaussians = (dotsPerMm: number): Gaussian[] => {
  const total = terms.reduce((sum, { weight }) => sum + weight, 0);
  return terms.map(({ weight, sigmaDegrees }) => ({
    weight: weight / total,
    sigmaDots: sigmaDegrees / degreesPerDot(dotsPerMm),
  }));
};

/**
 * Autocorrelation of the eye at whole dots: a square table of 2·reach + 1, 1 in the middle. The squared difference that is
 * seen between two prints is Σ e·(c ⊛ e).
 */
export const eyeCorrelation = (dotsPerMm: number, reach: number): Float32Array => {
  const parts = eyeGaussians(dotsPerMm);
  const side = 2 * reach + 1;
  return Float32Array.from({ length: side * side }, (_, i) => {
    const squared = ((i % side) - reach) ** 2 + (Math.floor(i / side) - reach) ** 2;
    return parts.reduce((sum, { weight, sigmaDots }) => sum + weight * Math.exp(-squared / (2 * sigmaDots ** 2)), 0);
  });
};
