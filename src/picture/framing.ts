import { createKernels, roomFor } from './kernels.ts';
import type { Pixels } from './luma.ts';
import { codedOf } from './transfer.ts';

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
  const stride = Math.min(inputs, Math.floor(2 * reach) + 1);
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

/** Codes over the root of light: nearly even in both, so that a small table is off by less than 0.03 of a code. */
const rootSteps = 8191;
const codesOfRoot = Float32Array.from({ length: rootSteps + 1 }, (_, i) => 255 * codedOf((i / rootSteps) ** 2));

/**
 * Crops, turns and scales pixels to the picture's dots in one go, in linear light.
 * Returns a function that reuses its buffers: gamma-coded values 0…255, not rounded, row by row.
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
  const columns = (width + 3) & ~3;
  /** Output rows are made four at a time; the last four may be fewer. */
  const fours = Array.from({ length: Math.ceil(outDown / 4) }, (_, four) =>
    [0, 1, 2, 3].map(row => Math.min(outDown - 1, 4 * four + row)),
  );
  const lastInput = (y: number) => down.first[y] + down.stride;
  // Rows are made linear once each and kept as long as four kernels are high: columns go first, since their loops run along rows.
  const kept = Math.max(...fours.map(rows => lastInput(rows[3]) - down.first[rows[0]]));
  const dots = widthDots * heightDots;
  const lineBytes = 2 * width;
  const kernels = createKernels(
    roomFor(1, lineBytes) +
      roomFor(4, 256, kept * columns, 4 * columns, 4 * down.stride, 4 * down.stride, dots) +
      roomFor(4, across.first.length, across.weights.length, codesOfRoot.length),
  );
  const line = kernels.bytes(lineBytes);
  const light = kernels.floats(256);
  const rows = kernels.floats(kept * columns);
  const mixed = kernels.floats(4 * columns);
  const rowAddresses = kernels.words(4 * down.stride);
  const rowWeights = kernels.floats(4 * down.stride);
  const firsts = kernels.words(outAcross);
  const weights = kernels.floats(across.weights.length);
  const codes = kernels.floats(codesOfRoot.length);
  const out = kernels.floats(dots);
  firsts.set(across.first.map(first => first - left));
  weights.set(across.weights);
  codes.set(codesOfRoot);

  /** Where sample (x, y) of the crop, as the webcam sees it, goes in the output. */
  const place = (x: number, y: number): number => {
    let [p, q] = [x, y];
    if (framing.rotate === 90) [p, q] = [outDown - 1 - y, x];
    if (framing.rotate === 180) [p, q] = [outAcross - 1 - x, outDown - 1 - y];
    if (framing.rotate === 270) [p, q] = [y, outAcross - 1 - x];
    if (framing.mirror) p = heldWidth - 1 - p;
    return framing.along ? p * widthDots + heldHeight - 1 - q : q * widthDots + p;
  };
  const address = (x: number, y: number) => out.byteOffset + 4 * place(x, y);
  const go = address(1, 0) - address(0, 0);
  const keptAt = (row: number) => rows.byteOffset + 4 * columns * (row % kept);

  return ({ data, strideBytes, stepBytes, light: lightOf }) => {
    light.set(lightOf);
    const span = (width - 1) * stepBytes + 1;
    let read = down.first[0];
    for (const four of fours) {
      for (const last = lastInput(four[3]); read < last; read++) {
        const from = read * strideBytes + left * stepBytes;
        line.set(data.subarray(from, from + span));
        kernels.lighten(line.byteOffset, stepBytes, width, light.byteOffset, keptAt(read));
      }
      four.forEach((y, row) => {
        for (let k = 0; k < down.stride; k++) rowAddresses[row * down.stride + k] = keptAt(down.first[y] + k);
        rowWeights.set(down.weights.subarray(y * down.stride, (y + 1) * down.stride), row * down.stride);
      });
      kernels.downFour(rowAddresses.byteOffset, rowWeights.byteOffset, down.stride, columns, mixed.byteOffset);
      kernels.acrossFour(
        mixed.byteOffset,
        firsts.byteOffset,
        weights.byteOffset,
        across.stride,
        outAcross,
        codes.byteOffset,
        rootSteps,
        address(0, four[0]),
        address(0, four[1]),
        address(0, four[2]),
        address(0, four[3]),
        go,
      );
    }
    return out;
  };
};
