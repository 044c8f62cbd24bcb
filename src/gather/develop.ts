import type { Dots } from '../parts/darkroom.ts';
import { cellInk, decideDots } from './dots.ts';
import type { Grey, Point } from './grey.ts';
import { createGrey, sample } from './grey.ts';
import { project } from './homography.ts';
import type { Lattice } from './lattice.ts';
import { findLattice, marginDots, perDot, rectify, rimDots } from './lattice.ts';
import { samplesPerCell } from './levels.ts';
import { evenLight } from './light.ts';
import type { FoundPicture } from './pictures.ts';
import type { Plane } from './restore.ts';
import { descreen } from './restore.ts';
import type { Sighting } from './survey.ts';

/** One picture taken off a scan. */
export interface Gathered {
  /** Camera mark and number from its code; null where there is none that could be read for certain. */
  name: { mark: string; shot: number } | null;
  /** The printed dots, where the scan shows them finely enough. */
  dots: Dots | null;
  /** Continuous tone, straight and evenly lit. */
  picture: Grey;
  /** Corners on the scan in pixels, clockwise from the picture's own upper left. */
  corners: readonly Point[];
  /** Pixels a dot: what the scan could show. 0 for prints without marks. */
  pxPerDot: number;
  /** How clearly the lattice stood out; duplicates are judged by it. */
  contrast: number;
}

/** Below this the lattice can't be followed. */
const leastPxPerDot = 2.2;
const leastContrast = 0.45;

const greyOf = ({ width, height, data }: Plane): Grey => {
  const grey = createGrey(width, height);
  for (let i = 0; i < data.length; i++) grey.data[i] = Math.min(1, Math.max(0, data[i])) * 255 + 0.5;
  return grey;
};

const cellMeans = (cells: Float32Array, widthDots: number, heightDots: number): Plane => {
  const data = new Float32Array(widthDots * heightDots);
  for (let i = 0; i < data.length; i++) {
    let sum = 0;
    for (let k = 0; k < samplesPerCell; k++) sum += cells[i * samplesPerCell + k];
    data[i] = 1 - sum / samplesPerCell;
  }
  return { width: widthDots, height: heightDots, data };
};

const evenLattice = (widthDots: number, heightDots: number): Lattice => ({
  heightDots,
  rowEdges: Float32Array.from({ length: heightDots + 1 }, (_, row) => (row + marginDots) * perDot),
  shifts: new Float32Array(widthDots > 0 ? heightDots : 0),
  contrast: 0,
});

/** Where the lattice's outermost edges lie on the scan. */
const cornersOf = ({ toScan, widthDots }: FoundPicture, { rowEdges, shifts }: Lattice): Point[] => {
  const at = (column: number, edge: number, shift: number) =>
    project(toScan, column + shift / perDot, edge / perDot - marginDots);
  const [top, bottom] = [rowEdges[0], rowEdges[rowEdges.length - 1]];
  const [above, below] = [shifts[0], shifts[shifts.length - 1]];
  return [at(0, top, above), at(widthDots, top, above), at(widthDots, bottom, below), at(0, bottom, below)];
};

const developMarked = (scan: Grey, found: FoundPicture, restore: (dots: Dots) => Plane): Gathered => {
  const { widthDots, toScan, pxPerDot, name } = found;
  const ink = evenLight(rectify(scan, toScan, widthDots, found.heightDots), rimDots * perDot);
  const lattice = pxPerDot >= leastPxPerDot ? findLattice(ink, widthDots) : null;
  if (lattice && lattice.contrast >= leastContrast) {
    const dots = decideDots(cellInk(ink, lattice, widthDots), widthDots, lattice.heightDots);
    const corners = cornersOf(found, lattice);
    return { name, dots, picture: greyOf(restore(dots)), corners, pxPerDot, contrast: lattice.contrast };
  }
  const even = evenLattice(widthDots, found.heightDots);
  const plane = cellMeans(cellInk(ink, even, widthDots), widthDots, found.heightDots);
  return {
    name,
    dots: null,
    picture: greyOf(descreen(plane, 1.1)),
    corners: cornersOf(found, even),
    pxPerDot,
    contrast: lattice?.contrast ?? 0,
  };
};

const cutOut = (scan: Grey, corners: readonly Point[]): Gathered => {
  const [origin, right, , below] = corners;
  const width = Math.round(Math.hypot(right.x - origin.x, right.y - origin.y));
  const height = Math.round(Math.hypot(below.x - origin.x, below.y - origin.y));
  const picture = createGrey(width, height);
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      const [u, v] = [(x + 0.5) / width, (y + 0.5) / height];
      const px = origin.x + (right.x - origin.x) * u + (below.x - origin.x) * v;
      const py = origin.y + (right.y - origin.y) * u + (below.y - origin.y) * v;
      picture.data[y * width + x] = Math.round(sample(scan, px - 0.5, py - 0.5));
    }
  return { name: null, dots: null, picture, corners, pxPerDot: 0, contrast: 0 };
};

/**
 * Takes one picture off a scan.
 * @param restore Printed dots to gamma-coded tone.
 */
export const develop = (scan: Grey, sighting: Sighting, restore: (dots: Dots) => Plane): Gathered =>
  sighting.marked ? developMarked(scan, sighting.marked, restore) : cutOut(scan, sighting.corners);
