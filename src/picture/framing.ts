import type { Luma } from './luma.ts';
import { linearTable } from './transfer.ts';

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

/** One output sample's taps: `weights` on `count` inputs from `first` on. */
interface Taps {
  first: Int32Array;
  count: Int32Array;
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
  const stride = Math.ceil(reach) * 2 + 1;
  const taps: Taps = {
    first: new Int32Array(outputs),
    count: new Int32Array(outputs),
    weights: new Float32Array(outputs * stride),
    stride,
  };
  for (let i = 0; i < outputs; i++) {
    const centre = from + (i + 0.5) * scale;
    const first = Math.max(0, Math.floor(centre - reach + 0.5));
    const last = Math.min(inputs - 1, Math.ceil(centre + reach - 0.5) - 1);
    let sum = 0;
    for (let k = first; k <= last; k++) {
      const weight = kernel((k + 0.5 - centre) / Math.max(1, scale));
      taps.weights[i * stride + k - first] = weight;
      sum += weight;
    }
    for (let k = first; k <= last; k++) taps.weights[i * stride + k - first] /= sum;
    taps.first[i] = first;
    taps.count[i] = last - first + 1;
  }
  return taps;
};

/**
 * Crops, turns and scales luma to the picture's dots in one go, in linear light.
 * Returns a function that reuses its buffers: linear light 0…1, row by row.
 */
export const createFramer = (
  framing: Framing,
  inputWidth: number,
  inputHeight: number,
): ((luma: Luma) => Float32Array) => {
  const { widthDots, heightDots } = framing;
  const [heldWidth, heldHeight] = framing.along ? [heightDots, widthDots] : [widthDots, heightDots];
  const quarter = framing.rotate === 90 || framing.rotate === 270;
  const [outAcross, outDown] = quarter ? [heldHeight, heldWidth] : [heldWidth, heldHeight];
  const wanted = outAcross / outDown;
  const cropWidth = Math.min(inputWidth, inputHeight * wanted);
  const cropHeight = cropWidth / wanted;
  const across = tapsFor(inputWidth, (inputWidth - cropWidth) / 2, cropWidth, outAcross);
  const down = tapsFor(inputHeight, (inputHeight - cropHeight) / 2, cropHeight, outDown);
  const firstRow = down.first[0];
  const lastRow = down.first[outDown - 1] + down.count[outDown - 1] - 1;
  const rows = new Float32Array((lastRow - firstRow + 1) * outAcross);
  const line = new Float32Array(inputWidth);
  const sums = new Float32Array(outAcross);
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

  return ({ data }) => {
    for (let y = firstRow; y <= lastRow; y++) {
      const from = y * inputWidth;
      for (let x = 0; x < inputWidth; x++) line[x] = linearTable[data[from + x]];
      const to = (y - firstRow) * outAcross;
      for (let x = 0; x < outAcross; x++) {
        const first = across.first[x];
        const count = across.count[x];
        const weightAt = x * across.stride;
        let sum = 0;
        for (let k = 0; k < count; k++) sum += across.weights[weightAt + k] * line[first + k];
        rows[to + x] = sum;
      }
    }
    for (let y = 0; y < outDown; y++) {
      sums.fill(0);
      for (let k = 0; k < down.count[y]; k++) {
        const weight = down.weights[y * down.stride + k];
        const from = (down.first[y] + k - firstRow) * outAcross;
        for (let x = 0; x < outAcross; x++) sums[x] += weight * rows[from + x];
      }
      let at = start + y * goY;
      for (let x = 0; x < outAcross; x++, at += goX) out[at] = sums[x] < 0 ? 0 : sums[x] > 1 ? 1 : sums[x];
    }
    return out;
  };
};
