/** Samples of darkness that are taken of each cell: 3 × 3. */
export const samplesPerCell = 9;

const blockDots = 16;
/** Blocks around one that help to tell its levels, so that solid black or white has some too. */
const reachBlocks = 1;
/** How many samples' worth the belief counts that a block is like the whole picture. */
const belief = 200;

const between = (map: Float32Array, i: number, right: number, below: number, fu: number, fv: number): number => {
  const top = map[i] + (map[i + right] - map[i]) * fu;
  const bottom = map[i + below] + (map[i + below + right] - map[i + below]) * fu;
  return top + (bottom - top) * fv;
};

/**
 * Levels of paper and ink from place to place. Light, stains and fading are never quite even, and weak ink makes small
 * errors of the paper's level look like dots: so each block's samples are set against what its own dots should look like,
 * and a straight line through these, gain and offset, is taken out of them.
 */
export const createLevels = (widthDots: number, heightDots: number) => {
  const across = Math.ceil(widthDots / blockDots);
  const down = Math.ceil(heightDots / blockDots);
  const blocks = across * down;

  return {
    /**
     * @param cells Samples, `samplesPerCell` a cell; changed in place.
     * @param looks What each neighbourhood of dots looks like, `samplesPerCell` values each.
     * @param patterns Neighbourhood of each cell.
     */
    even(cells: Float32Array, looks: Float32Array, patterns: Uint16Array): void {
      // Sums of 1, look, look², sample, look × sample.
      const sums = new Float64Array(blocks * 5);
      for (let y = 0; y < heightDots; y++)
        for (let x = 0; x < widthDots; x++) {
          const block = (Math.floor(y / blockDots) * across + Math.floor(x / blockDots)) * 5;
          const cell = (y * widthDots + x) * samplesPerCell;
          const look = patterns[y * widthDots + x] * samplesPerCell;
          let [l, ll, s, ls] = [0, 0, 0, 0];
          for (let k = 0; k < samplesPerCell; k++) {
            const expected = looks[look + k];
            const seen = cells[cell + k];
            l += expected;
            ll += expected * expected;
            s += seen;
            ls += expected * seen;
          }
          sums[block] += samplesPerCell;
          sums[block + 1] += l;
          sums[block + 2] += ll;
          sums[block + 3] += s;
          sums[block + 4] += ls;
        }
      const gains = new Float32Array(blocks);
      const offsets = new Float32Array(blocks);
      for (let by = 0; by < down; by++)
        for (let bx = 0; bx < across; bx++) {
          let [n, l, ll, s, ls] = [0, 0, 0, 0, 0];
          for (let v = Math.max(0, by - reachBlocks); v <= Math.min(down - 1, by + reachBlocks); v++)
            for (let u = Math.max(0, bx - reachBlocks); u <= Math.min(across - 1, bx + reachBlocks); u++) {
              const at = (v * across + u) * 5;
              n += sums[at];
              l += sums[at + 1];
              ll += sums[at + 2];
              s += sums[at + 3];
              ls += sums[at + 4];
            }
          const [meanLook, meanSeen] = [l / n, s / n];
          const gain = (ls - l * meanSeen + belief * 0.1) / (ll - l * meanLook + belief * 0.1);
          gains[by * across + bx] = Math.max(0.3, gain);
          offsets[by * across + bx] = meanSeen - gains[by * across + bx] * meanLook;
        }
      for (let y = 0; y < heightDots; y++) {
        const v = Math.min(down - 1, Math.max(0, (y + 0.5) / blockDots - 0.5));
        const v0 = Math.floor(v);
        const fv = v - v0;
        const below = v0 + 1 < down ? across : 0;
        for (let x = 0; x < widthDots; x++) {
          const u = Math.min(across - 1, Math.max(0, (x + 0.5) / blockDots - 0.5));
          const u0 = Math.floor(u);
          const fu = u - u0;
          const right = u0 + 1 < across ? 1 : 0;
          const i = v0 * across + u0;
          const gain = between(gains, i, right, below, fu, fv);
          const offset = between(offsets, i, right, below, fu, fv);
          const cell = (y * widthDots + x) * samplesPerCell;
          for (let k = 0; k < samplesPerCell; k++) cells[cell + k] = (cells[cell + k] - offset) / gain;
        }
      }
    },
  };
};
