/**
 * From drive (energy given over energy needed, 1 nominal) to ink. Thermal paper answers along an S: nothing below about
 * half of the nominal energy, little more above it; hotter dots are wider. Shape by common practice, no source.
 */
const middle = 0.72;
const width = 0.1;

/** Optical darkness of the inside of a dot: 0 bare paper, about 1 at nominal drive. */
export const darknessOf = (drive: number): number => {
  const s = (x: number) => 1 / (1 + Math.exp(-(x - middle) / width));
  return Math.max(0, (s(drive) - s(0)) / (s(1) - s(0)));
};

/** Radius of a dot in units of the pitch: its area follows the drive around the nominal point. */
export const dotRadiusOf = (drive: number, nominal: number): number =>
  nominal * Math.sqrt(Math.min(1.6, Math.max(0.5, 1 + 0.6 * (drive - 1))));

/** Ink that a dot leaves: darkness times area, 1 at nominal drive. */
export const inkOf = (drive: number): number => darknessOf(drive) * dotRadiusOf(drive, 1) ** 2;
