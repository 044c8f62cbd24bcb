/** A bitmap of one byte a dot while it is worked on: 1 is black. */
export interface Bitmap {
  width: number;
  height: number;
  data: Uint8Array;
}

/** Fills `into` from the wanted share of dots `ink` (0…1, row by row). */
export type Halftone = (ink: Float32Array, into: Bitmap) => void;
