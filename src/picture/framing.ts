import type { Pixels } from './luma.ts';

export interface Framing {
  /** Degrees clockwise by which the webcam sits turned in the body. */
  rotate: 0 | 90 | 180 | 270;
  mirror: boolean;
  /** The picture lies along the paper: its width runs in the direction of travel. */
  along: boolean;
  /** The picture on the strip. */
  widthDots: number;
  heightDots: number;
}

/** One output sample's taps: `stride` weights (zeros beyond the kernel) on inputs from `first` on. */
interface Taps {
  first: Int32Array;
  weights: Float32Array;
  stride: number;
}

const lobes = 2;
const sinc = (x: number): number => (x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x));
/** Lanczos kernel with two lobes: sharper than a mean, with less ringing at hard edges than three lobes. */
const kernel = (x: number): number => (Math.abs(x) >= lobes ? 0 : sinc(x) * sinc(x / lobes));

/** Taps that bring `from` … `from + span` of the input to `outputs` samples, wide enough against aliasing. */
const tapsFor = (inputs: number, from: number, span: number, outputs: number): Taps => {
  const scale = span / outputs;
  const reach = lobes * Math.max(1, scale);
  // An even number, so that loops can go by two; a small input may have fewer.
  const stride = Math.min(inputs, (Math.floor(2 * reach) + 2) & ~1);
  const taps: Taps = { first: new Int32Array(outputs), weights: new Float32Array(outputs * stride), stride };
  for (let i = 0; i < outputs; i++) {
    const centre = from + (i + 0.5) * scale;
    const nearest = Math.max(0, Math.floor(centre - reach + 0.5));
    const last = Math.min(inputs - 1, Math.ceil(centre + reach - 0.5) - 1);
    const first = Math.min(nearest, inputs - stride);
    let sum = 0;
    for (let k = nearest; k <= last; k++) {
      const weight = kernel((k + 0.5 - centre) / Math.max(1, scale));
      taps.weights[i * stride + k - first] = weight;
      sum += weight;
    }
    for (let k = nearest; k <= last; k++) taps.weights[i * stride + k - first] /= sum;
    taps.first[i] = first;
  }
  return taps;
};

/** One row through its taps, from `line` to `out` at `at`, `step` apart. */
const scaleRow = (
  line: Float32Array,
  { first, weights, stride }: Taps,
  out: Float32Array,
  at: number,
  step: number,
) => {
  const pairs = stride & ~1;
  for (let x = 0, w = 0; x < first.length; x++, at += step) {
    let from = first[x];
    let sum = 0;
    // Webcams of 720 rows on 512 dots come to six taps: worth a line of their own, since this is where most time goes.
    if (stride === 6) {
      sum =
        weights[w] * line[from] +
        weights[w + 1] * line[from + 1] +
        weights[w + 2] * line[from + 2] +
        weights[w + 3] * line[from + 3] +
        weights[w + 4] * line[from + 4] +
        weights[w + 5] * line[from + 5];
      w += 6;
    } else
      for (const end = w + pairs; w < end; w += 2, from += 2)
        sum += weights[w] * line[from] + weights[w + 1] * line[from + 1];
    if (pairs < stride) sum += weights[w++] * line[from];
    out[at] = sum < 0 ? 0 : sum > 1 ? 1 : sum;
  }
};

/**
 * Crops, turns and scales pixels to the picture's dots in one go, in linear light.
 * Returns a function that reuses its buffers: linear light 0…1, row by row.
 */
export const createFramer = (
  framing: Framing,
  inputWidth: number,
  inputHeight: number,
): ((pixels: Pixels) => Float32Array) => {
  const { widthDots, heightDots } = framing;
  const [heldWidth, heldHeight] = framing.along ? [heightDots, widthDots] : [widthDots, heightDots];
  const quarter = framing.rotate === 90 || framing.rotate === 270;
  const [outAcross, outDown] = quarter ? [heldHeight, heldWidth] : [heldWidth, heldHeight];
  const wanted = outAcross / outDown;
  const cropWidth = Math.min(inputWidth, inputHeight * wanted);
  const cropHeight = cropWidth / wanted;
  const across = tapsFor(inputWidth, (inputWidth - cropWidth) / 2, cropWidth, outAcross);
  const down = tapsFor(inputHeight, (inputHeight - cropHeight) / 2, cropHeight, outDown);
  const left = across.first[0];
  const width = across.first[outAcross - 1] + across.stride - left;
  for (let x = 0; x < outAcross; x++) across.first[x] -= left;
  // Rows are made linear once each and kept as long as a kernel is high: columns go first, since their loops run along rows.
  const kept = Array.from({ length: down.stride }, () => new Float32Array(width));
  const mixed = new Float32Array(width);
  const out = new Float32Array(widthDots * heightDots);

  /** Where sample (x, y) of the crop, as the webcam sees it, goes in the output. */
  const place = (x: number, y: number): number => {
    let [p, q] = [x, y];
    if (framing.rotate === 90) [p, q] = [outDown - 1 - y, x];
    if (framing.rotate === 180) [p, q] = [outAcross - 1 - x, outDown - 1 - y];
    if (framing.rotate === 270) [p, q] = [y, outAcross - 1 - x];
    if (framing.mirror) p = heldWidth - 1 - p;
    return framing.along ? p * widthDots + heldHeight - 1 - q : q * widthDots + p;
  };
  const start = place(0, 0);
  const goX = place(1, 0) - start;
  const goY = place(0, 1) - start;

  const mix = (y: number) => {
    const first = down.first[y];
    const w = y * down.stride;
    for (let k = 0; k < down.stride; k += 2) {
      const weight = down.weights[w + k];
      const row = kept[(first + k) % down.stride];
      const second = k + 1 < down.stride ? down.weights[w + k + 1] : 0;
      if (k > 0 && weight === 0 && second === 0) continue;
      const next = kept[(first + k + 1) % down.stride];
      if (k === 0) for (let x = 0; x < width; x++) mixed[x] = weight * row[x] + second * next[x];
      else for (let x = 0; x < width; x++) mixed[x] += weight * row[x] + second * next[x];
    }
  };

  return ({ data, strideBytes, stepBytes, light }) => {
    let read = down.first[0];
    for (let y = 0; y < outDown; y++) {
      for (; read < down.first[y] + down.stride; read++) {
        const row = kept[read % down.stride];
        for (let x = 0, p = read * strideBytes + left * stepBytes; x < width; x++, p += stepBytes)
          row[x] = light[data[p]];
      }
      mix(y);
      scaleRow(mixed, across, out, start + y * goY, goX);
    }
    return out;
  };
};
