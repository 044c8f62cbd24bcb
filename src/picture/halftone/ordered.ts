import type { Halftone } from './bits.ts';

/** Bayer, 1973: M(2n) = [4M, 4M + 2; 4M + 3, 4M + 1], from [0]; `size` a power of two. */
export const bayerMatrix = (size: number): Uint16Array => {
  let matrix = Uint16Array.of(0);
  for (let n = 1; n < size; n *= 2) {
    const next = new Uint16Array(4 * n * n);
    for (let y = 0; y < n; y++)
      for (let x = 0; x < n; x++) {
        const m = 4 * matrix[y * n + x];
        next[y * 2 * n + x] = m;
        next[y * 2 * n + x + n] = m + 2;
        next[(y + n) * 2 * n + x] = m + 3;
        next[(y + n) * 2 * n + x + n] = m + 1;
      }
    matrix = next;
  }
  return matrix;
};

const adder = (size: number, sigma: number) => {
  const bell = new Float64Array(size * size);
  for (let y = 0; y < size; y++)
    for (let x = 0; x < size; x++) {
      const [dx, dy] = [Math.min(x, size - x), Math.min(y, size - y)];
      bell[y * size + x] = Math.exp(-(dx * dx + dy * dy) / (2 * sigma * sigma));
    }
  return (energy: Float64Array, at: number, sign: 1 | -1) => {
    const [ax, ay] = [at % size, Math.floor(at / size)];
    for (let y = 0; y < size; y++)
      for (let x = 0; x < size; x++)
        energy[y * size + x] += sign * bell[((y - ay + size) % size) * size + ((x - ax + size) % size)];
  };
};

/**
 * Void and cluster (Ulichney, 1993) on a torus with a Gaussian (σ = 1.5, from memory): a rank for each place, 0 first.
 */
export const voidAndCluster = (size: number): Uint16Array => {
  const cells = size * size;
  const add = adder(size, 1.5);
  const on = new Uint8Array(cells);
  const energy = new Float64Array(cells);
  const extreme = (state: 0 | 1, largest: boolean) => {
    let best = -1;
    for (let i = 0; i < cells; i++)
      if (on[i] === state && (best < 0 || (largest ? energy[i] > energy[best] : energy[i] < energy[best]))) best = i;
    return best;
  };
  const put = (at: number, state: 0 | 1) => {
    on[at] = state;
    add(energy, at, state ? 1 : -1);
  };
  const few = Math.max(1, Math.floor(cells / 10));
  let seed = 12345;
  for (let placed = 0; placed < few; ) {
    seed = (Math.imul(seed, 1103515245) + 12345) >>> 0;
    const at = (seed >>> 8) % cells;
    if (on[at]) continue;
    put(at, 1);
    placed++;
  }
  // First pattern: the tightest cluster moves to the largest void until it would come back.
  for (;;) {
    const cluster = extreme(1, true);
    put(cluster, 0);
    const gap = extreme(0, false);
    put(gap, 1);
    if (gap === cluster) break;
  }
  const rank = new Uint16Array(cells);
  const first = Uint8Array.from(on);
  const firstEnergy = Float64Array.from(energy);
  for (let r = few - 1; r >= 0; r--) {
    const cluster = extreme(1, true);
    put(cluster, 0);
    rank[cluster] = r;
  }
  on.set(first);
  energy.set(firstEnergy);
  for (let r = few; r < cells; r++) {
    const gap = extreme(0, false);
    put(gap, 1);
    rank[gap] = r;
  }
  return rank;
};

/** Clustered dots at 45°, eight dots apart: coarse, but the surest on paper that blooms. */
export const clusteredDot = (): Uint16Array => {
  const size = 8;
  const spot = (x: number, y: number) =>
    Math.cos((2 * Math.PI * (x + y)) / size) + Math.cos((2 * Math.PI * (x - y)) / size);
  const order = Array.from({ length: size * size }, (_, i) => i).sort((a, b) => {
    const height = (i: number) => spot((i % size) + 0.31, Math.floor(i / size) + 0.17);
    return height(b) - height(a) || a - b;
  });
  const rank = new Uint16Array(size * size);
  order.forEach((cell, r) => {
    rank[cell] = r;
  });
  return rank;
};

/** Black where the wanted ink is over the place's rank; `grain` dots share a place. */
export const ordered = (rank: Uint16Array, grain = 1): Halftone => {
  const size = Math.round(Math.sqrt(rank.length));
  const thresholds = Float32Array.from(rank, r => (r + 0.5) / rank.length);
  return (ink, { width, height, data }) => {
    for (let y = 0; y < height; y++) {
      const row = (Math.floor(y / grain) % size) * size;
      for (let x = 0; x < width; x++)
        data[y * width + x] = ink[y * width + x] > thresholds[row + (Math.floor(x / grain) % size)] ? 1 : 0;
    }
  };
};
