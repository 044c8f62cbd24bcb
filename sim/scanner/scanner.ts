import type { Grey, Point } from '../../src/gather/grey.ts';
import { createGrey, reduce, sample } from '../../src/gather/grey.ts';
import type { Homography } from '../../src/gather/homography.ts';
import { homographyFrom, project } from '../../src/gather/homography.ts';
import type { Dots } from '../../src/parts/darkroom.ts';
import type { Chance } from '../random.ts';
import { inkRaster, padDots, perDot } from './raster.ts';

/** A strip on the virtual glass. */
export interface LaidStrip {
  dots: Dots;
  /** Centre on the page in mm, and turn in degrees, clockwise as seen. */
  xMm: number;
  yMm: number;
  turnDegrees: number;
  /** Paper beside the printed width, each side, in mm. */
  marginMm?: number;
}

export interface ScanWear {
  /** Corner shifts of a phone's perspective, as share of the page's width. */
  perspective: number;
  /** How far the strip meanders to the side and curls along, in dots. */
  curlDots: number;
  /** Standard deviation of one row's feed error, in dots; errors add up, and are pulled back slowly. */
  feedJitterDots: number;
  /** Paper feed against nominal: 1 is exact. */
  feedScale: number;
  /** Uneven light: share of brightness lost in the darkest corner. */
  shading: number;
  blurPx: number;
  /** Standard deviation of sensor noise, grey levels. */
  noise: number;
  /** Specks a square decimetre. */
  dust: number;
  /** Share of the ink's darkness that is gone. */
  fading: number;
  stains: number;
  dotRadius: number;
  /** Grey level of the glass or table behind. */
  background: number;
}

export const cleanWear: ScanWear = {
  perspective: 0,
  curlDots: 0,
  feedJitterDots: 0,
  feedScale: 1,
  shading: 0,
  blurPx: 0.5,
  noise: 1,
  dust: 0,
  fading: 0,
  stains: 0,
  dotRadius: 0.65,
  background: 200,
};

export interface Scan {
  image: Grey;
  /** Where a point of strip `index` (x, y in dots, 0 at the first dot's upper left corner) lies on the image, pixels. */
  place(index: number, x: number, y: number): Point;
}

const dotsPerMm = 8;
const paperGrey = 236;
const inkGrey = 34;

const blurRows = (image: Grey, sigmaPx: number): Grey => {
  const reach = Math.max(1, Math.ceil(2.5 * sigmaPx));
  const kernel = Array.from({ length: 2 * reach + 1 }, (_, i) => Math.exp(-((i - reach) ** 2) / (2 * sigmaPx ** 2)));
  const total = kernel.reduce((sum, k) => sum + k, 0);
  const out = createGrey(image.widthPx, image.heightPx);
  for (let y = 0; y < image.heightPx; y++) {
    const row = y * image.widthPx;
    for (let x = 0; x < image.widthPx; x++) {
      let sum = 0;
      for (let k = -reach; k <= reach; k++) {
        const at = x + k < 0 ? 0 : x + k >= image.widthPx ? image.widthPx - 1 : x + k;
        sum += kernel[k + reach] * image.data[row + at];
      }
      out.data[row + x] = Math.round(sum / total);
    }
  }
  return out;
};

const transposed = (image: Grey): Grey => {
  const out = createGrey(image.heightPx, image.widthPx);
  for (let y = 0; y < image.heightPx; y++)
    for (let x = 0; x < image.widthPx; x++) out.data[x * image.heightPx + y] = image.data[y * image.widthPx + x];
  return out;
};

const blurred = (image: Grey, sigmaPx: number): Grey =>
  sigmaPx < 0.2 ? image : transposed(blurRows(transposed(blurRows(image, sigmaPx)), sigmaPx));

/** Where each row came to lie on the paper (in dots), and back from there to the row. */
const feedOf = (heightDots: number, wear: ScanWear, chance: Chance) => {
  const at = new Float64Array(heightDots + 1);
  let error = 0;
  for (let row = 1; row <= heightDots; row++) {
    error = error * 0.995 + chance.normal() * wear.feedJitterDots;
    at[row] = Math.max(at[row - 1] + 0.2, row * wear.feedScale + error);
  }
  const back = (paper: number): number => {
    if (paper <= 0) return paper;
    if (paper >= at[heightDots]) return heightDots + paper - at[heightDots];
    let [low, high] = [0, heightDots];
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (at[middle] <= paper) low = middle;
      else high = middle;
    }
    return low + (paper - at[low]) / (at[low + 1] - at[low]);
  };
  const forth = (row: number): number => {
    if (row <= 0) return row;
    if (row >= heightDots) return at[heightDots] + row - heightDots;
    const low = Math.floor(row);
    return at[low] + (row - low) * (at[low + 1] - at[low]);
  };
  return { back, forth, length: at[heightDots] };
};

/** Lays strips on a virtual glass or table and takes the scan: a page of `widthMm` × `heightMm` at `dpi`. */
export const takeScan = (
  strips: readonly LaidStrip[],
  page: { widthMm: number; heightMm: number; dpi: number },
  wear: ScanWear,
  chance: Chance,
): Scan => {
  const pxPerMm = page.dpi / 25.4;
  const widthPx = Math.round(page.widthMm * pxPerMm);
  const heightPx = Math.round(page.heightMm * pxPerMm);
  const image = createGrey(widthPx, heightPx);
  image.data.fill(wear.background);
  const shift = () => (chance.next() - 0.5) * 2 * wear.perspective * widthPx;
  const corners = [
    { x: 0, y: 0 },
    { x: widthPx, y: 0 },
    { x: widthPx, y: heightPx },
    { x: 0, y: heightPx },
  ];
  const moved = corners.map(({ x, y }) => ({ x: x + shift(), y: y + shift() }));
  const view = homographyFrom(corners, moved) as Homography;
  const viewBack = homographyFrom(moved, corners) as Homography;

  const placed = strips.map(strip => {
    const { dots, xMm, yMm, turnDegrees, marginMm = 5 } = strip;
    const factor = Math.max(1, Math.floor((perDot * 25.4 * dotsPerMm) / page.dpi / 1.0));
    const raster = reduce(inkRaster(dots, wear.dotRadius), factor);
    const scale = perDot / factor;
    const feed = feedOf(dots.heightDots, wear, chance);
    const turn = (turnDegrees * Math.PI) / 180;
    const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
    const phase = chance.next() * 6;
    const bend = (along: number) => wear.curlDots * Math.sin(phase + (along / 900) * Math.PI);
    const crimp = (along: number) => 0.6 * wear.curlDots * Math.sin(phase * 2 + (along / 700) * Math.PI);
    const toPage = (x: number, y: number): Point => {
      const along = feed.forth(y);
      const dx = (x + bend(along) - dots.widthDots / 2) / dotsPerMm;
      const dy = (along + crimp(along) - feed.length / 2) / dotsPerMm;
      return project(view, (xMm + dx * cos - dy * sin) * pxPerMm, (yMm + dx * sin + dy * cos) * pxPerMm);
    };
    const fromPage = (px: number, py: number): Point => {
      const flat = project(viewBack, px, py);
      const mx = flat.x / pxPerMm - xMm;
      const my = flat.y / pxPerMm - yMm;
      const paperY = (-mx * sin + my * cos) * dotsPerMm + feed.length / 2;
      let along = paperY;
      if (wear.curlDots === 0)
        return { x: (mx * cos + my * sin) * dotsPerMm + dots.widthDots / 2, y: feed.back(paperY) };
      // It changes by less than a hundredth a dot: the second round is exact enough.
      for (let i = 0; i < 2; i++) along = paperY - crimp(along);
      return { x: (mx * cos + my * sin) * dotsPerMm + dots.widthDots / 2 - bend(along), y: feed.back(along) };
    };
    return { dots, raster, scale, marginDots: marginMm * dotsPerMm, toPage, fromPage };
  });

  const ink = (paperGrey - inkGrey) * (1 - wear.fading);
  for (const { dots, raster, scale, marginDots, toPage, fromPage } of placed) {
    const outline = [];
    for (let i = 0; i <= 20; i++) {
      const y = -marginDots + (i / 20) * (dots.heightDots + 2 * marginDots);
      outline.push(toPage(-marginDots, y), toPage(dots.widthDots + marginDots, y));
    }
    const x0 = Math.max(0, Math.floor(Math.min(...outline.map(p => p.x)) - 4));
    const x1 = Math.min(widthPx - 1, Math.ceil(Math.max(...outline.map(p => p.x)) + 4));
    const y0 = Math.max(0, Math.floor(Math.min(...outline.map(p => p.y)) - 4));
    const y1 = Math.min(heightPx - 1, Math.ceil(Math.max(...outline.map(p => p.y)) + 4));
    for (let py = y0; py <= y1; py++)
      for (let px = x0; px <= x1; px++) {
        const { x, y } = fromPage(px, py);
        const torn = 3 * Math.sin(x / 5) + 2 * Math.sin(x / 2.3);
        if (
          x < -marginDots ||
          x > dots.widthDots + marginDots ||
          y < -marginDots + torn ||
          y > dots.heightDots + marginDots + torn
        )
          continue;
        const inside =
          x > 1 - padDots && y > 1 - padDots && x < dots.widthDots + padDots - 1 && y < dots.heightDots + padDots - 1;
        const cover = inside ? 1 - sample(raster, (x + padDots) * scale - 0.5, (y + padDots) * scale - 0.5) / 255 : 0;
        image.data[py * widthPx + px] = Math.round(paperGrey - ink * cover);
      }
  }
  const out = blurred(image, wear.blurPx);
  const specks = Math.round((wear.dust * page.widthMm * page.heightMm) / 10_000);
  for (let i = 0; i < specks; i++) {
    const [cx, cy, r] = [chance.next() * widthPx, chance.next() * heightPx, (0.05 + 0.15 * chance.next()) * pxPerMm];
    for (let y = Math.floor(cy - r); y <= cy + r; y++)
      for (let x = Math.floor(cx - r); x <= cx + r; x++)
        if (x >= 0 && y >= 0 && x < widthPx && y < heightPx && Math.hypot(x - cx, y - cy) < r)
          out.data[y * widthPx + x] = chance.hit(0.5) ? 60 : 250;
  }
  const rings = Array.from({ length: wear.stains }, () => ({
    x: chance.next() * widthPx,
    y: chance.next() * heightPx,
    r: (8 + 20 * chance.next()) * pxPerMm,
  }));
  const [gx, gy] = [chance.next(), chance.next()];
  for (let y = 0; y < heightPx; y++)
    for (let x = 0; x < widthPx; x++) {
      const at = y * widthPx + x;
      const fall = Math.hypot(x / widthPx - gx, y / heightPx - gy) / Math.SQRT2;
      let light = 1 - wear.shading * fall;
      for (const ring of rings) {
        const d = Math.abs(Math.hypot(x - ring.x, y - ring.y) - ring.r) / pxPerMm;
        light *= d < 1.5 ? 0.8 : Math.hypot(x - ring.x, y - ring.y) < ring.r ? 0.93 : 1;
      }
      const value = out.data[at] * light + (wear.noise > 0 ? chance.normal() * wear.noise : 0);
      out.data[at] = value < 0 ? 0 : value > 255 ? 255 : Math.round(value);
    }
  return { image: out, place: (index, x, y) => placed[index].toPage(x, y) };
};
