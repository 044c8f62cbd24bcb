import type { Grey } from '../../gather/grey.ts';
import { type Homography, homographyFrom, project } from '../../gather/homography.ts';
import { Fault } from '../../parts/fault.ts';
import { linearTable } from '../../picture/transfer.ts';
import { refineQuad } from './edges.ts';
import { findFrames, type Quad } from './find.ts';
import { clearOfPatch, layOutWedge, patchInset, readKey, type WedgeLayout } from './layout.ts';

/** What a scan tells of one share of dots. */
export interface Step {
  /** Share of dots asked, 0…1. */
  share: number;
  /** Reflectance against the bare paper beside it, mean of all patches of this share. */
  reflectance: number;
  /** Largest difference between these patches. */
  spread: number;
}
export interface Reading {
  widthDots: number;
  steps: Step[];
  /** Pixels of the scan to a dot. */
  pxPerDot: number;
}

const unreadable = (name: string, why: string, mend: string) => new Fault('unreadable', `${name}: ${why}`, mend);

/** Mean linear light around a place of the wedge, a quarter dot apart. */
const lightIn = (
  scan: Grey,
  place: Homography,
  box: { x: number; y: number; width: number; height: number },
): number => {
  const { widthPx, heightPx, data } = scan;
  const fine = 3;
  let sum = 0;
  let count = 0;
  for (let v = 0.5 / fine; v < box.height; v += 1 / fine)
    for (let u = 0.5 / fine; u < box.width; u += 1 / fine) {
      const { x, y } = project(place, box.x + u, box.y + v);
      const [x0, y0] = [Math.floor(x), Math.floor(y)];
      if (x0 < 0 || y0 < 0 || x0 + 1 >= widthPx || y0 + 1 >= heightPx) continue;
      const at = y0 * widthPx + x0;
      const [fx, fy] = [x - x0, y - y0];
      const top = linearTable[data[at]] * (1 - fx) + linearTable[data[at + 1]] * fx;
      const bottom = linearTable[data[at + widthPx]] * (1 - fx) + linearTable[data[at + widthPx + 1]] * fx;
      sum += top * (1 - fy) + bottom * fy;
      count++;
    }
  return count === 0 ? 0 : sum / count;
};

const cornersOf = ({ x, y, width, height }: WedgeLayout['frame']) => [
  { x, y },
  { x: x + width, y },
  { x: x + width, y: y + height },
  { x, y: y + height },
];

/** The key's cells as bits; null where light and dark can't be told apart. */
const keyOn = (scan: Grey, place: Homography, { key }: WedgeLayout): number[] | null => {
  const lights = Array.from({ length: 16 }, (_, i) =>
    lightIn(scan, place, { x: key.x + i * key.pitch + 3, y: key.y + 3, width: key.size - 6, height: key.size - 6 }),
  );
  const [least, most] = [Math.min(...lights), Math.max(...lights)];
  if (most < 1.6 * least) return null;
  return lights.map(light => (light < (least + most) / 2 ? 1 : 0));
};

interface Placed {
  layout: WedgeLayout;
  place: Homography;
}

/** Widths that heads of receipt printers have (common practice, no source), the expected one first. */
const widths = (expected: number) => [...new Set([expected, 384, 576, 432, 512, 640, 832, 288])];

/** Tries all widths, four turns and the mirror image; the key tells which is right. */
const placeWedge = (scan: Grey, quad: Quad, expected: number): Placed | 'mirrored' | null => {
  for (const widthDots of widths(expected)) {
    const layout = layOutWedge(widthDots);
    for (let turn = 0; turn < 8; turn++) {
      const turned = [0, 1, 2, 3].map(i => quad[turn < 4 ? (i + turn) % 4 : (8 - i + turn) % 4]);
      const place = homographyFrom(cornersOf(layout.frame), turned);
      const bits = place && keyOn(scan, place, layout);
      if (!place || !bits || readKey(bits) !== widthDots) continue;
      return turn < 4 ? { layout, place } : 'mirrored';
    }
  }
  return null;
};

/**
 * Measures the step wedge on a scan or photo (sRGB-coded grey), however it lies, in uneven light. `expected` is the width in
 * dots of the printer in question. Throws a `Fault` where there is no wedge, or it can't be measured.
 */
export const readWedge = (scan: Grey, expected: number, name: string): Reading => {
  let mirrored = false;
  for (const rough of findFrames(scan)) {
    const side = (i: number) => Math.hypot(rough[i].x - rough[(i + 1) % 4].x, rough[i].y - rough[(i + 1) % 4].y);
    const acrossPx = Math.min((side(0) + side(2)) / 2, (side(1) + side(3)) / 2);
    const quad = refineQuad(scan, rough, Math.max(2, (acrossPx * 8) / expected));
    const placed = quad && placeWedge(scan, quad, expected);
    if (placed === 'mirrored') mirrored = true;
    else if (placed) {
      const { layout } = placed;
      if (layout.widthDots !== expected)
        throw unreadable(
          name,
          `this wedge was printed ${layout.widthDots} dots wide, the printer's profile says ${expected}`,
          'name the profile of the printer that printed it: --profile',
        );
      const pxPerDot = acrossPx / layout.frame.width;
      if (pxPerDot < 1)
        throw unreadable(
          name,
          `${pxPerDot.toFixed(2)} pixels to a dot are too few to measure`,
          'scan at 300 dpi or more, or hold the phone closer',
        );
      return { widthDots: layout.widthDots, steps: measure(scan, placed, name), pxPerDot };
    }
  }
  throw mirrored
    ? unreadable(name, 'the wedge is mirrored', 'scan it anew without mirroring')
    : unreadable(
        name,
        'there is no step wedge to be found on it',
        'its whole frame has to be on the picture, sharp, with some bare paper around',
      );
};

const measure = (scan: Grey, { layout, place }: Placed, name: string): Step[] => {
  const byShare = new Map<number, number[]>();
  for (const { x, y, size, share } of layout.patches) {
    const { from, to } = clearOfPatch;
    const long = { width: size, height: to - from };
    const tall = { width: to - from, height: size };
    // Light that falls off evenly is the same in the mean of opposite sides as in the middle.
    const paper =
      (lightIn(scan, place, { x, y: y - to, ...long }) +
        lightIn(scan, place, { x, y: y + size + from, ...long }) +
        lightIn(scan, place, { x: x - to, y, ...tall }) +
        lightIn(scan, place, { x: x + size + from, y, ...tall })) /
      4;
    const inside = {
      x: x + patchInset,
      y: y + patchInset,
      width: size - 2 * patchInset,
      height: size - 2 * patchInset,
    };
    const reflectance = paper > 0 ? lightIn(scan, place, inside) / paper : 0;
    byShare.set(share, [...(byShare.get(share) ?? []), reflectance]);
  }
  const steps = [...byShare]
    .sort(([a], [b]) => a - b)
    .map(([share, values]) => ({
      share,
      reflectance: values.reduce((a, b) => a + b, 0) / values.length,
      spread: Math.max(...values) - Math.min(...values),
    }));
  const solid = steps[steps.length - 1].reflectance;
  if (solid > 0.6)
    throw unreadable(
      name,
      `solid black is only ${Math.round((1 - solid) * 100)} % darker than paper`,
      'raise the heating time in the profile, or scan without automatic brightening',
    );
  const uneven = steps.find(({ spread }) => spread > 0.15);
  if (uneven)
    throw unreadable(
      name,
      `patches of ${Math.round(uneven.share * 100)} % differ among each other by ${Math.round(uneven.spread * 100)} %`,
      'light the wedge more evenly, without glare or the shadow of a hand',
    );
  return steps;
};
