/**
 * Continuous tone back from dots. Each pixel is a weighted sum of the paper shares around it; which weights is chosen by
 * what the neighbourhood looks like (tone, strength and direction of its gradient, after the gradient-steered inverse
 * halftoning of Kite, Damera-Venkata, Evans and Bovik, ICIP 1998), and the weights themselves were fitted by least
 * squares on invented pictures. A second round looks again with the first round's result in hand.
 */

const reach = 5;
const side = 2 * reach + 1;
const taps = side * side;
const secondReach = 2;
const secondTaps = (2 * secondReach + 1) ** 2;
/** Values that the weights of each round are multiplied with; the last is the constant 1. */
export const featureCounts = [taps + 1, taps + secondTaps + 1] as const;

const levels = 6;
const strengthBounds = [0.006, 0.016, 0.045];
const angles = 3;
const coherent = 0.4;
export const classCount = levels * (strengthBounds.length + 1) * (1 + angles);

export interface Plane {
  width: number;
  height: number;
  data: Float32Array;
}

/** sRGB transfer (IEC 61966-2-1), linear to gamma-coded, both 0…1. */
const coded = (linear: number): number => {
  const l = linear < 0 ? 0 : linear > 1 ? 1 : linear;
  return l <= 0.0031308 ? 12.92 * l : 1.055 * l ** (1 / 2.4) - 0.055;
};

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

/** Plain low-pass restoration: what every other has to beat. */
export const descreen = (bare: Plane, sigma = 1.6): Plane => {
  const { width, height, data } = gaussian(bare, sigma);
  return { width, height, data: data.map(coded) };
};

const mirrored = (plane: Plane, margin: number): Plane => {
  const { width, height, data } = plane;
  const out = new Float32Array((width + 2 * margin) * (height + 2 * margin));
  const fold = (i: number, n: number) => (i < 0 ? Math.min(n - 1, -i - 1) : i >= n ? Math.max(0, 2 * n - 1 - i) : i);
  for (let y = 0; y < height + 2 * margin; y++) {
    const from = fold(y - margin, height) * width;
    for (let x = 0; x < width + 2 * margin; x++)
      out[y * (width + 2 * margin) + x] = data[from + fold(x - margin, width)];
  }
  return { width: width + 2 * margin, height: height + 2 * margin, data: out };
};

/** Offsets of a square patch under each of its eight symmetries, so that a gradient always points the same way. */
const orderings = (half: number, stride: number): Int32Array[] =>
  Array.from({ length: 8 }, (_, symmetry) => {
    const offsets: number[] = [];
    for (let y = -half; y <= half; y++)
      for (let x = -half; x <= half; x++) {
        let [u, v] = symmetry & 4 ? [y, x] : [x, y];
        if (symmetry & 1) u = -u;
        if (symmetry & 2) v = -v;
        offsets.push(v * stride + u);
      }
    return Int32Array.from(offsets);
  });

/** Class and symmetry of each pixel, from a smooth gamma-coded estimate of the picture. */
const lookAround = (estimate: Plane): { classes: Uint16Array; symmetries: Uint8Array } => {
  const { width, height, data } = estimate;
  const products = [0, 1, 2].map(() => ({ width, height, data: new Float32Array(width * height) }));
  const gx = new Float32Array(width * height);
  const gy = new Float32Array(width * height);
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      const i = y * width + x;
      gx[i] = (data[x + 1 < width ? i + 1 : i] - data[x > 0 ? i - 1 : i]) / 2;
      gy[i] = (data[y + 1 < height ? i + width : i] - data[y > 0 ? i - width : i]) / 2;
      products[0].data[i] = gx[i] * gx[i];
      products[1].data[i] = gx[i] * gy[i];
      products[2].data[i] = gy[i] * gy[i];
    }
  const [xx, xy, yy] = products.map(plane => gaussian(plane, 1.5).data);
  const classes = new Uint16Array(width * height);
  const symmetries = new Uint8Array(width * height);
  for (let i = 0; i < classes.length; i++) {
    const spread = Math.sqrt((xx[i] - yy[i]) ** 2 + 4 * xy[i] ** 2);
    const strength = Math.sqrt((xx[i] + yy[i] + spread) / 2);
    const coherence = spread / (xx[i] + yy[i] + 1e-9);
    let s = 0;
    while (s < strengthBounds.length && strength > strengthBounds[s]) s++;
    const turn = 0.5 * Math.atan2(2 * xy[i], xx[i] - yy[i]);
    let ux = Math.cos(turn);
    let uy = Math.sin(turn);
    // Which way along the axis the picture gets brighter is told by the gradient itself.
    if (ux * gx[i] + uy * gy[i] < 0) [ux, uy] = [-ux, -uy];
    let symmetry = 0;
    if (ux < 0) symmetry |= 1;
    if (uy < 0) symmetry |= 2;
    if (Math.abs(uy) > Math.abs(ux)) symmetry |= 4;
    const angle = Math.atan2(Math.min(Math.abs(ux), Math.abs(uy)), Math.max(Math.abs(ux), Math.abs(uy)));
    const direction = coherence < coherent ? 0 : 1 + Math.min(angles - 1, Math.floor((angle / (Math.PI / 4)) * angles));
    const level = Math.min(levels - 1, Math.max(0, Math.floor(data[i] * levels)));
    classes[i] = (level * (strengthBounds.length + 1) + s) * (1 + angles) + direction;
    symmetries[i] = symmetry;
  }
  return { classes, symmetries };
};

/** Calls `visit` with the class and the features of each pixel: what fitting and restoring have in common. */
export const eachNeighbourhood = (
  bare: Plane,
  earlier: Plane | null,
  visit: (index: number, kind: number, features: Float32Array) => void,
): void => {
  const { width, height } = bare;
  const look = lookAround(earlier ? gaussian(earlier, 0.7) : descreen(bare, 1.5));
  const padded = mirrored(bare, reach);
  const offsets = orderings(reach, padded.width);
  const second = earlier && mirrored(earlier, secondReach);
  const secondOffsets = second ? orderings(secondReach, second.width) : [];
  const features = new Float32Array(featureCounts[earlier ? 1 : 0]);
  features[features.length - 1] = 1;
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      const i = y * width + x;
      const order = offsets[look.symmetries[i]];
      const centre = (y + reach) * padded.width + x + reach;
      for (let k = 0; k < taps; k++) features[k] = padded.data[centre + order[k]];
      if (second) {
        const secondOrder = secondOffsets[look.symmetries[i]];
        const secondCentre = (y + secondReach) * second.width + x + secondReach;
        for (let k = 0; k < secondTaps; k++) features[taps + k] = second.data[secondCentre + secondOrder[k]];
      }
      visit(i, look.classes[i], features);
    }
};

/** Weights of a round: `classCount` × features. */
export type Weights = Float32Array;

export const applyRound = (bare: Plane, earlier: Plane | null, weights: Weights): Plane => {
  const out = { width: bare.width, height: bare.height, data: new Float32Array(bare.data.length) };
  eachNeighbourhood(bare, earlier, (index, kind, features) => {
    let sum = 0;
    const from = kind * features.length;
    for (let k = 0; k < features.length; k++) sum += weights[from + k] * features[k];
    out.data[index] = sum < 0 ? 0 : sum > 1 ? 1 : sum;
  });
  return out;
};
