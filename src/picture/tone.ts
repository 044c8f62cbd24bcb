import type { Look } from '../config/schema.ts';
import { createKernels, roomFor } from './kernels.ts';

/** Share of the darkest and brightest pixels that automatic levels let go. */
const clippedShare = 0.005;
/** Levels never stretch a narrower range than this many codes: noise in the dark would become the picture. */
const narrowest = 48;
/** Mean code that automatic levels brighten or darken a picture towards, and the exponents that they may use for it. */
const meanWanted = 112;
const [strongest, weakest] = [0.55, 1.15];

const tiles = 8;
const bins = 64;
/** Most counts a bin may hold, in multiples of an even histogram. */
const clipFactor = 2.2;

/**
 * Mapping of one tile by contrast-limited equalisation (Zuiderveld, Graphics Gems IV, 1994, 474–485): counts above the
 * limit are shared out over all bins, and the cumulative sum maps codes to codes.
 * @param counts Histogram of the tile; changed.
 * @param limit Most counts that a bin keeps.
 */
export const clippedMapping = (counts: Float32Array, limit: number, total: number, into: Float32Array): void => {
  let excess = 0;
  for (let i = 0; i < counts.length; i++)
    if (counts[i] > limit) {
      excess += counts[i] - limit;
      counts[i] = limit;
    }
  const share = excess / counts.length;
  let sum = 0;
  for (let i = 0; i < counts.length; i++) {
    sum += counts[i] + share;
    into[i] = (sum / total) * 255;
  }
};

/** A picture's tone on its way from frame to halftone. Every step changes `codes` in place. */
export interface Tone {
  /** Gamma-coded values 0…255, not rounded, row by row. */
  readonly codes: Float32Array;
  /**
   * Automatic levels, by `strength` 0…1: stretches codes so that the darkest and brightest reach the ends, then bends the
   * middle so that dim and back-lit pictures get the brightness of well-lit ones.
   */
  stretchLevels(strength: number): void;
  /** Contrast-limited adaptive equalisation, blended by `strength` 0…1 with what was there. */
  equaliseLocally(strength: number): void;
  /** Unsharp masking with a 3 × 3 binomial mask, by `amount`. */
  sharpen(amount: number): void;
  /** Replaces the picture by dark edges on white, by `share` 0…1. */
  drawEdges(share: number): void;
  /** Exponent on linear light (as a table over codes), slope about middle grey, negative. */
  bend(curve: Pick<Look, 'gamma' | 'contrast' | 'invert'>): void;
  /** What a table of `fine` steps a code says to each code, nearest; 255 · fine + 1 values. Shared. */
  lookUp(table: Float32Array, fine: number): Float32Array;
}

/** Rooms for pictures of one size. */
export const createTone = (width: number, height: number): Tone => {
  const count = width * height;
  const mapFloats = tiles * tiles * 256;
  const mostFine = 4;
  const kernels = createKernels(
    roomFor(4, count, count, count, 255 * mostFine + 1, 257, 4 * 256, mapFloats, width, width, width),
  );
  const codes = kernels.floats(count);
  const work = kernels.floats(count);
  const found = kernels.floats(count);
  const fineTable = kernels.floats(255 * mostFine + 1);
  const table = kernels.floats(257);
  const counts = kernels.words(4 * 256);
  const maps = kernels.floats(mapFloats);
  // Four neighbouring tiles blend; columns are the same for each row, so their places are reckoned once.
  const left = kernels.words(width);
  const right = kernels.words(width);
  const share = kernels.floats(width);
  const [tileWidth, tileHeight] = [width / tiles, height / tiles];
  const mapBytes = 4 * 256;
  for (let x = 0; x < width; x++) {
    const at = (x + 0.5) / tileWidth - 0.5;
    const tile = Math.floor(at);
    left[x] = Math.max(0, tile) * mapBytes;
    right[x] = Math.min(tiles - 1, tile + 1) * mapBytes;
    share[x] = at - tile;
  }
  const at = codes.byteOffset;

  /** Codes through a curve, straight between its values at whole codes. */
  const apply = (curve: (code: number) => number) => {
    for (let code = 0; code <= 256; code++) table[code] = curve(Math.min(255, code));
    kernels.applyCurve(at, count, table.byteOffset);
  };

  const mapping = new Float32Array(bins);
  const tileCounts = new Float32Array(bins);
  /** The map of one tile: straight between the middles of bins, a value for each code. */
  const mapTile = (tx: number, ty: number) => {
    const [x0, x1] = [Math.floor(tx * tileWidth), Math.floor((tx + 1) * tileWidth)];
    const [y0, y1] = [Math.floor(ty * tileHeight), Math.floor((ty + 1) * tileHeight)];
    kernels.countTile(at + 4 * (y0 * width + x0), x1 - x0, y1 - y0, width, counts.byteOffset);
    for (let bin = 0; bin < bins; bin++) tileCounts[bin] = counts[bin];
    const total = Math.max(1, (x1 - x0) * (y1 - y0));
    clippedMapping(tileCounts, (clipFactor * total) / bins, total, mapping);
    const to = (ty * tiles + tx) * 256;
    for (let code = 0; code < 256; code++) {
      const place = Math.min(bins - 1, Math.max(0, (code + 0.5) * (bins / 256) - 0.5));
      const bin = Math.min(bins - 2, place | 0);
      maps[to + code] = mapping[bin] + (mapping[bin + 1] - mapping[bin]) * (place - bin);
    }
  };

  return {
    codes,
    stretchLevels(strength) {
      if (strength === 0) return;
      kernels.countCodes(at, count, counts.byteOffset);
      const clip = count * clippedShare;
      let low = 0;
      for (let seen = counts[0]; seen < clip && low < 255; ) seen += counts[++low];
      let high = 255;
      for (let seen = counts[255]; seen < clip && high > 0; ) seen += counts[--high];
      if (high - low < narrowest) {
        const middle = (high + low) / 2;
        low = Math.max(0, middle - narrowest / 2);
        high = Math.min(255, low + narrowest);
      }
      const from = low * strength;
      const scale = 1 / (high * strength + 255 * (1 - strength) - from);
      const stretched = (code: number) => Math.min(1, Math.max(0, (code - from) * scale));
      let sum = 0;
      for (let code = 0; code < 256; code++) sum += counts[code] * stretched(code + 0.5);
      const mean = Math.min(0.99, Math.max(0.01, sum / count));
      const wanted = Math.min(weakest, Math.max(strongest, Math.log(meanWanted / 255) / Math.log(mean)));
      const exponent = 1 + (wanted - 1) * strength;
      apply(code => 255 * stretched(code) ** exponent);
    },
    equaliseLocally(strength) {
      if (strength === 0) return;
      for (let ty = 0; ty < tiles; ty++) for (let tx = 0; tx < tiles; tx++) mapTile(tx, ty);
      for (let y = 0; y < height; y++) {
        const place = (y + 0.5) / tileHeight - 0.5;
        const tile = Math.floor(place);
        kernels.blendRow(
          at + 4 * y * width,
          width,
          maps.byteOffset + Math.max(0, tile) * tiles * mapBytes,
          maps.byteOffset + Math.min(tiles - 1, tile + 1) * tiles * mapBytes,
          left.byteOffset,
          right.byteOffset,
          share.byteOffset,
          place - tile,
          strength,
        );
      }
    },
    sharpen(amount) {
      if (amount !== 0) kernels.sharpenCodes(at, width, height, amount, work.byteOffset);
    },
    drawEdges(amount) {
      if (amount === 0) return;
      for (let y = 0; y < height; y++)
        for (let x = 0; x < width; x++) {
          const i = y * width + x;
          const [l, r] = [x > 0 ? i - 1 : i, x + 1 < width ? i + 1 : i];
          const [u, d] = [y > 0 ? i - width : i, y + 1 < height ? i + width : i];
          work[i] = Math.hypot(codes[r] - codes[l], codes[d] - codes[u]);
        }
      for (let i = 0; i < count; i++) {
        const line = Math.max(0, 255 - 4 * work[i]);
        codes[i] += amount * (line - codes[i]);
      }
    },
    bend({ gamma, contrast, invert }) {
      if (gamma === 1 && contrast === 1 && !invert) return;
      apply(code => {
        // A power on linear light is very nearly the same power on gamma-coded values.
        const bent = (code / 255) ** gamma;
        const sloped = Math.min(1, Math.max(0, 0.5 + (bent - 0.5) * contrast));
        return 255 * (invert ? 1 - sloped : sloped);
      });
    },
    lookUp(values, fine) {
      fineTable.set(values);
      kernels.lookUp(at, count, fineTable.byteOffset, fine, found.byteOffset);
      return found;
    },
  };
};
