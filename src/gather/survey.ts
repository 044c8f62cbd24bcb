import { imprintGeometry } from '../print/imprint.ts';
import { titleOf } from './collect.ts';
import type { Grey, Point } from './grey.ts';
import { createGrey } from './grey.ts';
import { project } from './homography.ts';
import { findMarks } from './marks.ts';
import type { FoundPicture } from './pictures.ts';
import { findPictures } from './pictures.ts';
import { findUnmarked } from './unmarked.ts';

/** A picture that was seen on a scan and is still to be taken off it: by its marks, or by the corners of its ink. */
export type Sighting = { marked: FoundPicture } | { marked: null; corners: readonly Point[] };

export interface Survey {
  /** The scan as its pictures are to be taken from it: the right way round. */
  scan: Grey;
  sightings: Sighting[];
  /** What a person should know: parts of pictures, a mirrored scan, nothing found and why. */
  notes: string[];
}

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
  if (at(0.995) - at(0.005) >= 40) return 'no printed picture was found on this page';
  return at(0.5) < 110 ? 'no paper is on this scan: it is dark all over' : 'nothing is on this page: it is blank';
};

/** Looks a scan over: where its pictures are, what they are called, and what is odd about it. */
export const survey = (scan: Grey): Survey => {
  const notes: string[] = [];
  let image = scan;
  let marks = findMarks(image);
  let { found, cutThrough } = findPictures(image, marks);
  if (marks.length >= 4 && !found.some(picture => picture.name)) {
    const flipped = mirroredScan(scan);
    const flippedMarks = findMarks(flipped);
    const again = findPictures(flipped, flippedMarks);
    if (again.found.some(picture => picture.name)) {
      notes.push('the scan is mirrored; it was turned the right way round');
      [image, marks, found, cutThrough] = [flipped, flippedMarks, again.found, again.cutThrough];
    }
  }
  const outlines = found.map(withImprint);
  const bare = findUnmarked(image).filter(({ corners }) => {
    const middle = middleOf(corners);
    return !outlines.some(outline => inside(outline, middle) || inside(corners, middleOf(outline)));
  });
  const unread = found.filter(picture => !picture.name).length;
  // What looks like a mark inside a picture is an eye or a wheel.
  const loose = marks.filter(mark => !outlines.some(outline => inside(outline, mark))).length;
  if (unread) notes.push(`${counted(unread, 'picture has', 'pictures have')} marks but no readable code`);
  if (bare.length > 0)
    notes.push(`${counted(bare.length, 'print bears', 'prints bear')} no marks: cut out and straightened, but unnamed`);
  for (const name of cutThrough)
    notes.push(`${titleOf(name)} is not whole on this scan: its code is there, the marks above it are not`);
  if (loose - 2 * cutThrough.length >= 2)
    notes.push(
      `${counted(loose - 2 * cutThrough.length, 'mark belongs', 'marks belong')} to no whole picture: cut through, covered or off the glass?`,
    );
  if (found.length + bare.length === 0) notes.push(nothingBecause(image));
  return {
    scan: image,
    sightings: [
      ...found.map((marked): Sighting => ({ marked })),
      ...bare.map(({ corners }): Sighting => ({ marked: null, corners })),
    ],
    notes,
  };
};
