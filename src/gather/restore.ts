import type { Dots } from '../parts/darkroom.ts';
import { coverageOfPatterns } from '../picture/dot-gain.ts';
import { codedOf } from '../picture/transfer.ts';
import weights from './restore-weights.json' with { type: 'json' };

/**
 * Continuous tone back from dots: a small convolution network takes the bare paper of each cell and two low-passed views of
 * it, and adds to the softer one what it believes was lost. It was fitted on invented pictures in the camera's own
 * halftones (see `test/gather/train`), so that it knows how dots are placed; no photograph was used.
 */

export interface Plane {
  width: number;
  height: number;
  data: Float32Array;
}

export interface Layer {
  inputs: number;
  outputs: number;
  /** Side of the square kernel: 3 or 5. */
  side: number;
  /** outputs × inputs × side × side. */
  kernel: ArrayLike<number>;
  bias: ArrayLike<number>;
}

/** Pixels by which the layers together narrow the picture on each side. */
export const marginOf = (layers: readonly Layer[]): number => layers.reduce((sum, { side }) => sum + (side >> 1), 0);
/** What is let through below zero between layers. */
export const leak = 0.1;

/** Separable Gaussian, edges repeated. */
export const gaussian = ({ width, height, data }: Plane, sigma: number): Plane => {
  const half = Math.ceil(3 * sigma);
  const kernel = Array.from({ length: 2 * half + 1 }, (_, i) => Math.exp(-((i - half) ** 2) / (2 * sigma * sigma)));
  const total = kernel.reduce((sum, k) => sum + k, 0);
  const across = new Float32Array(data.length);
  const out = new Float32Array(data.length);
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      let sum = 0;
      for (let k = -half; k <= half; k++)
        sum += kernel[k + half] * data[y * width + Math.min(width - 1, Math.max(0, x + k))];
      across[y * width + x] = sum / total;
    }
  for (let y = 0; y < height; y++)
    for (let k = -half; k <= half; k++) {
      const row = Math.min(height - 1, Math.max(0, y + k)) * width;
      const weight = kernel[k + half] / total;
      for (let x = 0; x < width; x++) out[y * width + x] += weight * across[row + x];
    }
  return { width, height, data: out };
};

const coded = (plane: Plane): Plane => ({ ...plane, data: plane.data.map(v => codedOf(v < 0 ? 0 : v > 1 ? 1 : v)) });

/** Plain low-pass restoration: what every other has to beat. Gamma-coded 0…1. */
export const descreen = (bare: Plane, sigma = 1.6): Plane => coded(gaussian(bare, sigma));

/** Share of each cell that is bare paper, 0…1, for round dots of `radiusDots`; outside the picture is paper. */
export const bareShare = ({ widthDots, heightDots, strideBytes, data }: Dots, radiusDots: number): Plane => {
  const table = coverageOfPatterns(radiusDots);
  const stride = widthDots + 2;
  const bits = new Uint8Array(stride * (heightDots + 2));
  for (let y = 0; y < heightDots; y++)
    for (let x = 0; x < widthDots; x++)
      bits[(y + 1) * stride + x + 1] = (data[y * strideBytes + (x >> 3)] >> (7 - (x & 7))) & 1;
  const bare = new Float32Array(widthDots * heightDots);
  for (let y = 0; y < heightDots; y++)
    for (let x = 0; x < widthDots; x++) {
      let pattern = 0;
      for (let row = y; row < y + 3; row++)
        for (let i = row * stride + x; i < row * stride + x + 3; i++) pattern = (pattern << 1) | bits[i];
      bare[y * widthDots + x] = 1 - table[pattern];
    }
  return { width: widthDots, height: heightDots, data: bare };
};

/** The network's three views: bare paper, a sharper and a softer low-pass, gamma-coded; each about zero. */
export const viewsOf = (bare: Plane): Float32Array[] => [
  bare.data.map(v => v - 0.5),
  descreen(bare, 0.9).data.map(v => v - 0.5),
  descreen(bare, 1.6).data.map(v => v - 0.5),
];

/** Adds one row of five taps; values go from register to register, since loading them costs more than adding them up. */
const addFive = (out: Float32Array, to: number, width: number, input: Float32Array, from: number, k: Float64Array) => {
  const [k0, k1, k2, k3, k4] = k;
  let [a, b, c, d] = [input[from], input[from + 1], input[from + 2], input[from + 3]];
  for (let x = 0; x < width; x++) {
    const e = input[from + x + 4];
    out[to + x] += k0 * a + k1 * b + k2 * c + k3 * d + k4 * e;
    a = b;
    b = c;
    c = d;
    d = e;
  }
};

/** Adds a square of three by three taps, `stride` from one of its rows to the next. */
const addSquare = (
  out: Float32Array,
  to: number,
  width: number,
  input: Float32Array,
  from: number,
  stride: number,
  k: Float64Array,
) => {
  const [k0, k1, k2, k3, k4, k5, k6, k7, k8] = k;
  const [first, second, third] = [from, from + stride, from + 2 * stride];
  let [a, b, d, e, g, h] = [
    input[first],
    input[first + 1],
    input[second],
    input[second + 1],
    input[third],
    input[third + 1],
  ];
  for (let x = 0; x < width; x++) {
    const c = input[first + x + 2];
    const f = input[second + x + 2];
    const i = input[third + x + 2];
    out[to + x] += k0 * a + k1 * b + k2 * c + k3 * d + k4 * e + k5 * f + k6 * g + k7 * h + k8 * i;
    a = b;
    b = c;
    d = e;
    e = f;
    g = h;
    h = i;
  }
};

/** One layer over planes of `width` × `height`, without padding; its side is 3 or 5. */
export const convolve = (input: Float32Array, width: number, height: number, layer: Layer): Float32Array => {
  const { inputs, outputs, side, kernel, bias } = layer;
  const outWidth = width - side + 1;
  const outHeight = height - side + 1;
  const out = new Float32Array(outputs * outWidth * outHeight);
  const taps = new Float64Array(side === 3 ? 9 : 5);
  const load = (from: number) => {
    for (let t = 0; t < taps.length; t++) taps[t] = kernel[from + t];
  };
  for (let o = 0; o < outputs; o++) {
    const plane = o * outWidth * outHeight;
    out.fill(bias[o], plane, plane + outWidth * outHeight);
    for (let i = 0; i < inputs; i++) {
      const own = (o * inputs + i) * side * side;
      if (side === 3) {
        load(own);
        for (let y = 0; y < outHeight; y++)
          addSquare(out, plane + y * outWidth, outWidth, input, (i * height + y) * width, width, taps);
      } else
        for (let ky = 0; ky < side; ky++) {
          load(own + ky * side);
          for (let y = 0; y < outHeight; y++)
            addFive(out, plane + y * outWidth, outWidth, input, (i * height + y + ky) * width, taps);
        }
    }
  }
  return out;
};

/** Planes of all layers, the first being the input; each but the last leaks below zero. */
export const forward = (
  input: Float32Array,
  width: number,
  height: number,
  layers: readonly Layer[],
): Float32Array[] => {
  const planes = [input];
  let [w, h] = [width, height];
  layers.forEach((layer, index) => {
    const out = convolve(planes[index], w, h, layer);
    if (index < layers.length - 1) for (let k = 0; k < out.length; k++) if (out[k] < 0) out[k] *= leak;
    planes.push(out);
    w -= layer.side - 1;
    h -= layer.side - 1;
  });
  return planes;
};

/** Views with their edges repeated, as the network wants them. */
const padded = (views: readonly Float32Array[], width: number, height: number, margin: number): Float32Array => {
  const [w, h] = [width + 2 * margin, height + 2 * margin];
  const out = new Float32Array(views.length * w * h);
  views.forEach((view, v) => {
    for (let y = 0; y < h; y++) {
      const from = Math.min(height - 1, Math.max(0, y - margin)) * width;
      for (let x = 0; x < w; x++) out[(v * h + y) * w + x] = view[from + Math.min(width - 1, Math.max(0, x - margin))];
    }
  });
  return out;
};

const fitted: readonly Layer[] = weights.layers;
/** Rows worked on at once, so that memory doesn't grow with the picture. */
const bandRows = 64;

/** Gamma-coded tone 0…1 of what dots left bare. */
export const restoreTone = (bare: Plane, layers: readonly Layer[] = fitted): Plane => {
  const { width, height } = bare;
  const margin = marginOf(layers);
  const views = viewsOf(bare);
  const soft = views[2];
  const input = padded(views, width, height, margin);
  const [w, h] = [width + 2 * margin, height + 2 * margin];
  const data = new Float32Array(width * height);
  for (let top = 0; top < height; top += bandRows) {
    const rows = Math.min(bandRows, height - top);
    const tall = rows + 2 * margin;
    const band = new Float32Array(views.length * w * tall);
    for (let v = 0; v < views.length; v++)
      band.set(input.subarray((v * h + top) * w, (v * h + top + tall) * w), v * w * tall);
    const gained = forward(band, w, tall, layers)[layers.length];
    for (let k = 0, at = top * width; k < rows * width; k++, at++) {
      const value = gained[k] + soft[at] + 0.5;
      data[at] = value < 0 ? 0 : value > 1 ? 1 : value;
    }
  }
  return { width, height, data };
};
