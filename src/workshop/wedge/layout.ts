import { Fault } from '../../parts/fault.ts';

/**
 * The step wedge: a thick frame that a reader finds however the scan lies, a row of cells inside its upper edge that tells
 * which way is up and how wide the wedge was printed, and patches of rising ink, each twice, with bare paper between them.
 * All in dots from the wedge's upper left corner.
 */
export interface WedgeLayout {
  widthDots: number;
  heightDots: number;
  frame: { x: number; y: number; width: number; height: number; thickness: number };
  key: { x: number; y: number; pitch: number; size: number };
  patches: readonly Patch[];
}
export interface Patch {
  x: number;
  y: number;
  size: number;
  /** Share of dots asked, 0…1. */
  share: number;
}

const margin = 8;
const thickness = 8;
/** White beside the frame and between patches. */
const gap = 13;
export const patchSize = 42;
/** Dots at a patch's edge that aren't measured: light from outside gets in. */
export const patchInset = 5;
const fewestColumns = 3;

/** Closer where the eye sees most, in the light tones. */
const shares = [
  0, 0.02, 0.05, 0.08, 0.12, 0.16, 0.2, 0.25, 0.3, 0.35, 0.4, 0.45, 0.5, 0.55, 0.6, 0.65, 0.7, 0.75, 0.8, 0.86, 0.93, 1,
] as const;

/**
 * Each share once down the wedge and once up again, shifted by half, so that light and dark mix in every row (the head heats
 * evenly) and both copies of a share lie far apart (uneven light shows); solid patches in between as references.
 */
const order = (): number[] => {
  const half = shares.length / 2;
  const mixed = shares.flatMap((_, i) => (i < half ? [shares[i], shares[i + half]] : []));
  const back = [...mixed.slice(half), ...mixed.slice(0, half)].reverse();
  return [1, ...mixed, 1, 1, ...back, 1];
};

/** Bits of the key: which way is up (1011), eight bits of the width in bytes, a checksum. */
export const keyBits = (widthDots: number): number[] => {
  const value = widthDots >> 3;
  // Never 1101: read backwards it would be the beginning.
  const checksum = ((value >> 4) + 3 * (value & 15) + 5) % 13;
  const word = (0b1011 << 12) | (value << 4) | checksum;
  return Array.from({ length: 16 }, (_, i) => (word >> (15 - i)) & 1);
};

/** Width in dots that a key tells; null when it is none. */
export const readKey = (bits: readonly number[]): number | null => {
  const value = bits.slice(4, 12).reduce((sum, bit) => 2 * sum + bit, 0);
  return bits.every((bit, i) => bit === keyBits(value * 8)[i]) ? value * 8 : null;
};

/** The wedge for a printer of this width. Throws a `Fault` where it is too narrow. */
export const layOutWedge = (widthDots: number): WedgeLayout => {
  const inner = widthDots - 2 * (margin + thickness);
  const columns = Math.floor((inner - gap) / (patchSize + gap));
  if (columns < fewestColumns)
    throw new Fault(
      'config',
      `a step wedge doesn’t fit ${widthDots} dots`,
      `the printer has to be ${2 * (margin + thickness) + gap + fewestColumns * (patchSize + gap)} dots wide at least`,
    );
  const list = order();
  const rows = Math.ceil(list.length / columns);
  const pitch = Math.floor((inner - 2 * gap) / 16);
  const size = Math.min(16, pitch - 4);
  const key = { x: Math.round((widthDots - 16 * pitch) / 2), y: margin + thickness + gap, pitch, size };
  const top = key.y + size + gap;
  const left = Math.round((widthDots - columns * (patchSize + gap) + gap) / 2);
  const height = top + rows * (patchSize + gap) + thickness - margin;
  return {
    widthDots,
    heightDots: height + 2 * margin,
    frame: { x: margin, y: margin, width: widthDots - 2 * margin, height, thickness },
    key,
    patches: list.map((share, i) => ({
      x: left + (i % columns) * (patchSize + gap),
      y: top + Math.floor(i / columns) * (patchSize + gap),
      size: patchSize,
      share,
    })),
  };
};

/** Half of the white around a patch that can be trusted to be bare. */
export const clearOfPatch = { from: 4, to: gap - 4 } as const;
