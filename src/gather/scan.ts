import type { Dots } from '../parts/darkroom.ts';
import { imprintGeometry } from '../print/imprint.ts';

import { cellInk, decideDots } from './dots.ts';
import type { Grey, Point } from './grey.ts';
import { createGrey, sample } from './grey.ts';
import { homographyFrom, project } from './homography.ts';
import type { Lattice } from './lattice.ts';
import { findLattice, marginDots, perDot, rectify } from './lattice.ts';
import { samplesPerCell } from './levels.ts';
import { evenLight } from './light.ts';
import { findMarks } from './marks.ts';
import type { FoundPicture } from './pictures.ts';
import { findPictures } from './pictures.ts';
import type { Plane } from './restore.ts';
import { descreen } from './restore.ts';
import { findUnmarked } from './unmarked.ts';

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

export interface ScanResult {
  pictures: Gathered[];
  /** What a person should know: parts of pictures, a mirrored scan, nothing found and why. */
  notes: string[];
}

/** Below this the lattice can't be followed. */
const leastPxPerDot = 2.2;
const leastContrast = 0.45;

const greyOf = ({ width, height, data }: Plane): Grey => ({
  widthPx: width,
  heightPx: height,
  data: Uint8Array.from(data, value => Math.round(Math.min(1, Math.max(0, value)) * 255)),
});

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

const develop = (scan: Grey, found: FoundPicture, restore: (dots: Dots) => Plane): Gathered => {
  const { widthDots, toScan, pxPerDot, name } = found;
  const ink = evenLight(rectify(scan, toScan, widthDots, found.heightDots));
  const corners = [
    project(toScan, 0, 0),
    project(toScan, widthDots, 0),
    project(toScan, widthDots, found.heightDots),
    project(toScan, 0, found.heightDots),
  ];
  const lattice = pxPerDot >= leastPxPerDot ? findLattice(ink, widthDots) : null;
  if (lattice && lattice.contrast >= leastContrast) {
    const dots = decideDots(cellInk(ink, lattice, widthDots), widthDots, lattice.heightDots);
    return { name, dots, picture: greyOf(restore(dots)), corners, pxPerDot, contrast: lattice.contrast };
  }
  const even = evenLattice(widthDots, found.heightDots);
  const plane = cellMeans(cellInk(ink, even, widthDots), widthDots, found.heightDots);
  return {
    name,
    dots: null,
    picture: greyOf(descreen(plane, 1.1)),
    corners,
    pxPerDot,
    contrast: lattice?.contrast ?? 0,
  };
};

const cutOut = (scan: Grey, corners: readonly Point[]): Gathered | null => {
  const side = (a: Point, b: Point) => Math.hypot(a.x - b.x, a.y - b.y);
  const width = Math.round(side(corners[0], corners[1]));
  const height = Math.round(side(corners[1], corners[2]));
  const toScan = homographyFrom(
    [
      { x: 0, y: 0 },
      { x: width, y: 0 },
      { x: width, y: height },
      { x: 0, y: height },
    ],
    corners,
  );
  if (!toScan) return null;
  const picture = createGrey(width, height);
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      const at = project(toScan, x + 0.5, y + 0.5);
      picture.data[y * width + x] = Math.round(sample(scan, at.x - 0.5, at.y - 0.5));
    }
  return { name: null, dots: null, picture, corners, pxPerDot: 0, contrast: 0 };
};

const mirroredScan = ({ widthPx, heightPx, data }: Grey): Grey => {
  const out = createGrey(widthPx, heightPx);
  for (let y = 0; y < heightPx; y++)
    for (let x = 0; x < widthPx; x++) out.data[y * widthPx + x] = data[y * widthPx + widthPx - 1 - x];
  return out;
};

const inside = (corners: readonly Point[], { x, y }: Point): boolean => {
  let sign = 0;
  for (let i = 0; i < corners.length; i++) {
    const a = corners[i];
    const b = corners[(i + 1) % corners.length];
    const turn = (b.x - a.x) * (y - a.y) - (b.y - a.y) * (x - a.x);
    if (turn === 0) continue;
    if (sign !== 0 && Math.sign(turn) !== sign) return false;
    sign = Math.sign(turn);
  }
  return true;
};

const middleOf = (corners: readonly Point[]): Point => ({
  x: corners.reduce((sum, p) => sum + p.x, 0) / corners.length,
  y: corners.reduce((sum, p) => sum + p.y, 0) / corners.length,
});

/** Corners of a picture together with its marks and code. */
const withImprint = ({ toScan, widthDots, heightDots }: FoundPicture): readonly Point[] => {
  const reach = imprintGeometry.markDots + 2 * imprintGeometry.gapDots;
  return [
    project(toScan, 0, -reach),
    project(toScan, widthDots, -reach),
    project(toScan, widthDots, heightDots + reach),
    project(toScan, 0, heightDots + reach),
  ];
};

const counted = (n: number, one: string, many: string) => `${n} ${n === 1 ? one : many}`;

/**
 * Every picture on one scan.
 * @param restore Printed dots to gamma-coded tone.
 */
export const gatherScan = (scan: Grey, restore: (dots: Dots) => Plane): ScanResult => {
  const notes: string[] = [];
  let image = scan;
  let marks = findMarks(image);
  let found = findPictures(image, marks);
  if (marks.length >= 4 && !found.some(picture => picture.name)) {
    const flipped = mirroredScan(scan);
    const flippedMarks = findMarks(flipped);
    const again = findPictures(flipped, flippedMarks);
    if (again.some(picture => picture.name)) {
      notes.push('the scan is mirrored; it was turned the right way round');
      [image, marks, found] = [flipped, flippedMarks, again];
    }
  }
  const pictures = found.map(picture => develop(image, picture, restore));
  const outlines = found.map(withImprint);
  for (const { corners } of findUnmarked(image)) {
    const middle = middleOf(corners);
    if (outlines.some(outline => inside(outline, middle) || inside(corners, middleOf(outline)))) continue;
    const cut = cutOut(image, corners);
    if (cut) pictures.push(cut);
  }
  const unread = pictures.filter(picture => !picture.name && picture.pxPerDot > 0).length;
  const unmarked = pictures.filter(picture => picture.pxPerDot === 0).length;
  const loose = marks.length - 4 * found.length;
  if (unread) notes.push(`${counted(unread, 'picture has', 'pictures have')} marks but no readable code`);
  if (unmarked)
    notes.push(`${counted(unmarked, 'print bears', 'prints bear')} no marks: cut out and straightened, but unnamed`);
  if (loose >= 2)
    notes.push(
      `${counted(loose, 'mark belongs', 'marks belong')} to no whole picture: cut through, covered or off the glass?`,
    );
  if (pictures.length === 0) notes.push(nothingBecause(image));
  return { pictures, notes };
};

const nothingBecause = (image: Grey): string => {
  const counts = new Uint32Array(256);
  for (const value of image.data) counts[value]++;
  const at = (share: number) => {
    let seen = 0;
    for (let value = 0; value < 256; value++) {
      seen += counts[value];
      if (seen >= share * image.data.length) return value;
    }
    return 255;
  };
  return at(0.995) - at(0.005) < 40
    ? 'nothing is on this page: it is blank'
    : 'no printed picture was found on this page';
};
