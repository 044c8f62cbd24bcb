/** Share of the darkest and brightest pixels that automatic levels let go. */
const clippedShare = 0.005;
/** Levels never stretch a narrower range than this many codes: noise in the dark would become the picture. */
const narrowest = 48;

/** Mean code that automatic levels brighten or darken a picture towards, and the exponents that they may use for it. */
const meanWanted = 112;
const [strongest, weakest] = [0.55, 1.15];

/**
 * Automatic levels, by `strength` 0…1: stretches codes (0…255, floats) so that the darkest and brightest reach the ends, then
 * bends the middle so that dim and back-lit pictures get the brightness of well-lit ones. In place.
 */
export const stretchLevels = (codes: Float32Array, strength: number): void => {
  if (strength === 0) return;
  const counts = new Uint32Array(256);
  for (let i = 0; i < codes.length; i++) counts[codes[i] | 0]++;
  const clip = codes.length * clippedShare;
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
  const mean = Math.min(0.99, Math.max(0.01, sum / codes.length));
  const bend = Math.min(weakest, Math.max(strongest, Math.log(meanWanted / 255) / Math.log(mean)));
  const exponent = 1 + (bend - 1) * strength;
  applyTable(codes, code => 255 * stretched(code) ** exponent);
};

/** Codes through a curve, straight between its values at whole codes. In place. */
const applyTable = (codes: Float32Array, curve: (code: number) => number): void => {
  const table = Float32Array.from({ length: 257 }, (_, code) => curve(Math.min(255, code)));
  for (let i = 0; i < codes.length; i++) {
    const at = codes[i] | 0;
    codes[i] = table[at] + (table[at + 1] - table[at]) * (codes[i] - at);
  }
};

/** Exponent on linear light (as a table over codes), slope about middle grey, negative: one table, in place. */
export const bendTone = (
  codes: Float32Array,
  { gamma, contrast, invert }: { gamma: number; contrast: number; invert: boolean },
): void => {
  if (gamma === 1 && contrast === 1 && !invert) return;
  applyTable(codes, code => {
    // A power on linear light is very nearly the same power on gamma-coded values.
    const bent = (code / 255) ** gamma;
    const sloped = Math.min(1, Math.max(0, 0.5 + (bent - 0.5) * contrast));
    return 255 * (invert ? 1 - sloped : sloped);
  });
};

const tiles = 8;
const bins = 64;

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

/** Contrast-limited adaptive equalisation, blended by `strength` 0…1 with what was there. In place. */
export const equaliseLocally = (codes: Float32Array, width: number, height: number, strength: number): void => {
  if (strength === 0) return;
  const [tileWidth, tileHeight] = [width / tiles, height / tiles];
  const maps = new Float32Array(tiles * tiles * 256);
  const mapping = new Float32Array(bins);
  const counts = new Float32Array(bins);
  for (let ty = 0; ty < tiles; ty++)
    for (let tx = 0; tx < tiles; tx++) {
      counts.fill(0);
      const [x0, x1] = [Math.floor(tx * tileWidth), Math.floor((tx + 1) * tileWidth)];
      const [y0, y1] = [Math.floor(ty * tileHeight), Math.floor((ty + 1) * tileHeight)];
      for (let y = y0; y < y1; y++)
        for (let i = y * width + x0, end = y * width + x1; i < end; i++) counts[(codes[i] * bins) >> 8]++;
      const total = Math.max(1, (x1 - x0) * (y1 - y0));
      clippedMapping(counts, (clipFactor * total) / bins, total, mapping);
      // Straight between the middles of bins, a value for each code.
      for (let code = 0, at = (ty * tiles + tx) * 256; code < 256; code++) {
        const place = Math.min(bins - 1, Math.max(0, (code + 0.5) * (bins / 256) - 0.5));
        const bin = Math.min(bins - 2, place | 0);
        maps[at + code] = mapping[bin] + (mapping[bin + 1] - mapping[bin]) * (place - bin);
      }
    }
  // Four neighbouring tiles blend; columns are the same for each row, so their places are reckoned once.
  const left = new Int32Array(width);
  const right = new Int32Array(width);
  const across = new Float32Array(width);
  for (let x = 0; x < width; x++) {
    const at = (x + 0.5) / tileWidth - 0.5;
    const i = Math.floor(at);
    left[x] = Math.max(0, i) * 256;
    right[x] = Math.min(tiles - 1, i + 1) * 256;
    across[x] = at - i;
  }
  for (let y = 0; y < height; y++) {
    const at = (y + 0.5) / tileHeight - 0.5;
    const i = Math.floor(at);
    const above = Math.max(0, i) * tiles * 256;
    const below = Math.min(tiles - 1, i + 1) * tiles * 256;
    const down = at - i;
    for (let x = 0; x < width; x++) {
      const p = y * width + x;
      const code = codes[p] | 0;
      const l = left[x] + code;
      const r = right[x] + code;
      const a = maps[above + l];
      const b = maps[above + r];
      const c = maps[below + l];
      const d = maps[below + r];
      const top = a + (b - a) * across[x];
      const mapped = top + (c + (d - c) * across[x] - top) * down;
      const value = codes[p] + strength * (mapped - codes[p]);
      codes[p] = value < 0 ? 0 : value > 255 ? 255 : value;
    }
  }
};
/** Most counts a bin may hold, in multiples of an even histogram. */
const clipFactor = 2.2;

/** Unsharp masking with a 3 × 3 binomial mask, by `amount`; `work` is as long as `codes`. In place. */
export const sharpen = (
  codes: Float32Array,
  width: number,
  height: number,
  amount: number,
  work: Float32Array,
): void => {
  if (amount === 0) return;
  for (let y = 0; y < height; y++) {
    const row = y * width;
    const last = row + width - 1;
    work[row] = (3 * codes[row] + codes[Math.min(row + 1, last)]) / 4;
    for (let i = row + 1; i < last; i++) work[i] = (codes[i - 1] + 2 * codes[i] + codes[i + 1]) / 4;
    work[last] = (3 * codes[last] + codes[Math.max(last - 1, row)]) / 4;
  }
  for (let y = 0; y < height; y++) {
    const row = y * width;
    const up = y > 0 ? row - width : row;
    const down = y + 1 < height ? row + width : row;
    for (let x = 0; x < width; x++) {
      const soft = (work[up + x] + 2 * work[row + x] + work[down + x]) / 4;
      const value = codes[row + x] + amount * (codes[row + x] - soft);
      codes[row + x] = value < 0 ? 0 : value > 255 ? 255 : value;
    }
  }
};

/** Replaces the picture by dark edges on white, by `share` 0…1. In place. */
export const drawEdges = (
  codes: Float32Array,
  width: number,
  height: number,
  share: number,
  work: Float32Array,
): void => {
  if (share === 0) return;
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      const i = y * width + x;
      const [l, r] = [x > 0 ? i - 1 : i, x + 1 < width ? i + 1 : i];
      const [u, d] = [y > 0 ? i - width : i, y + 1 < height ? i + width : i];
      work[i] = Math.hypot(codes[r] - codes[l], codes[d] - codes[u]);
    }
  for (let i = 0; i < codes.length; i++) {
    const line = Math.max(0, 255 - 4 * work[i]);
    codes[i] += share * (line - codes[i]);
  }
};
