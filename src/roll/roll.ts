/** A roll as it is bought. */
export interface RollFigures {
  rollOuterMm: number;
  rollCoreMm: number;
  paperUm: number;
}

/** Length of paper on a roll, mm: L = π(D² − d²)/(4t). 0 where the core is as wide as the roll. */
export const rollLengthMm = ({ rollOuterMm, rollCoreMm, paperUm }: RollFigures): number =>
  Math.max(0, (Math.PI * (rollOuterMm ** 2 - rollCoreMm ** 2)) / (4 * (paperUm / 1000)));

/** Outer diameter of a roll with so much paper left, mm; what a person can measure with a ruler. */
export const rollOuterMmOf = (leftMm: number, { rollCoreMm, paperUm }: Omit<RollFigures, 'rollOuterMm'>): number =>
  Math.sqrt(rollCoreMm ** 2 + (4 * Math.max(0, leftMm) * (paperUm / 1000)) / Math.PI);

interface Head {
  widthDots: number;
  dotsPerMm: number;
}
interface Framing {
  aspect: number;
  along: boolean;
}

/** Length of a printed picture along the paper, mm, without margins. */
export const pictureLengthMm = ({ widthDots, dotsPerMm }: Head, { aspect, along }: Framing): number =>
  along ? (widthDots / dotsPerMm) * aspect : widthDots / dotsPerMm / aspect;

/** Under this much paper, or what five pictures need, the end is near. */
const nearEndMm = 500;
const nearEndPictures = 5;

export interface Roll {
  /** Paper that moved, mm; negative is back. */
  used(mm: number): void;
  newRoll(): void;
  /** By the account; never under 0, for rolls differ from what is printed on them. */
  leftMm(): number;
  usedMm(): number;
  /** Whole pictures of this length, margins included, that are left. */
  picturesLeft(pictureMm: number): number;
  /** Whether to warn, by the account alone. */
  nearEnd(pictureMm: number): boolean;
}

/** Account of the paper: what a new roll holds less what has moved since, `usedMm` of it before now. */
export const createRoll = (figures: RollFigures, usedMm = 0): Roll => {
  const fullMm = rollLengthMm(figures);
  let movedMm = Math.max(0, usedMm);
  const leftMm = () => Math.max(0, fullMm - movedMm);
  const picturesLeft = (pictureMm: number) => (pictureMm > 0 ? Math.floor(leftMm() / pictureMm) : 0);
  return {
    used(mm) {
      // Paper that goes back doesn't go back onto a fuller roll than a new one.
      movedMm = Math.max(0, movedMm + mm);
    },
    newRoll() {
      movedMm = 0;
    },
    leftMm,
    usedMm: () => movedMm,
    picturesLeft,
    nearEnd: pictureMm => leftMm() < Math.max(nearEndMm, nearEndPictures * pictureMm),
  };
};
