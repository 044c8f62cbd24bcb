import { type Layer, leak } from '../../../src/gather/network.ts';

/** The restoring network in plain words: what training differentiates, and what the quick one is held against. */

/** One layer over planes of `width` × `height`, without padding. */
export const convolve = (input: Float32Array, width: number, height: number, layer: Layer): Float32Array => {
  const { inputs, outputs, side, kernel, bias } = layer;
  const outWidth = width - side + 1;
  const outHeight = height - side + 1;
  const out = new Float32Array(outputs * outWidth * outHeight);
  for (let o = 0; o < outputs; o++) {
    const plane = o * outWidth * outHeight;
    out.fill(bias[o], plane, plane + outWidth * outHeight);
    for (let i = 0; i < inputs; i++)
      for (let ky = 0; ky < side; ky++)
        for (let kx = 0; kx < side; kx++) {
          const weight = kernel[((o * inputs + i) * side + ky) * side + kx];
          for (let y = 0; y < outHeight; y++) {
            let from = (i * height + y + ky) * width + kx;
            let to = plane + y * outWidth;
            for (const end = to + outWidth; to < end; ) out[to++] += weight * input[from++];
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
