/** A grey image, 8 bit, rows top down without padding; 255 is white. */
export interface Grey {
  widthPx: number;
  heightPx: number;
  data: Uint8Array;
}

export interface Point {
  x: number;
  y: number;
}

export const createGrey = (widthPx: number, heightPx: number): Grey => ({
  widthPx,
  heightPx,
  data: new Uint8Array(widthPx * heightPx),
});

/** Mean of `factor` × `factor` pixels; what doesn't fill a block at the right and bottom is left off. */
export const reduce = (image: Grey, factor: number): Grey => {
  if (factor === 1) return image;
  const out = createGrey(Math.floor(image.widthPx / factor), Math.floor(image.heightPx / factor));
  if (factor === 2) {
    const { widthPx, data } = image;
    for (let y = 0, to = 0; y < out.heightPx; y++)
      for (let x = 0, at = 2 * y * widthPx; x < out.widthPx; x++, at += 2, to++)
        out.data[to] = (data[at] + data[at + 1] + data[at + widthPx] + data[at + widthPx + 1]) >> 2;
    return out;
  }
  const sums = new Uint32Array(out.widthPx);
  const area = factor * factor;
  for (let y = 0; y < out.heightPx; y++) {
    sums.fill(0);
    for (let dy = 0; dy < factor; dy++) {
      let at = (y * factor + dy) * image.widthPx;
      for (let x = 0; x < out.widthPx; x++) {
        let sum = 0;
        for (let dx = 0; dx < factor; dx++) sum += image.data[at++];
        sums[x] += sum;
      }
    }
    const row = y * out.widthPx;
    for (let x = 0; x < out.widthPx; x++) out.data[row + x] = sums[x] / area;
  }
  return out;
};

/** Bilinear sample at pixel coordinates (0 is the centre of the first pixel); outside, the nearest edge. */
export const sample = ({ widthPx, heightPx, data }: Grey, x: number, y: number): number => {
  const cx = x < 0 ? 0 : x > widthPx - 1 ? widthPx - 1 : x;
  const cy = y < 0 ? 0 : y > heightPx - 1 ? heightPx - 1 : y;
  const x0 = cx | 0;
  const y0 = cy | 0;
  const fx = cx - x0;
  const fy = cy - y0;
  const at = y0 * widthPx + x0;
  const right = x0 + 1 < widthPx ? 1 : 0;
  const below = y0 + 1 < heightPx ? widthPx : 0;
  const top = data[at] + (data[at + right] - data[at]) * fx;
  const bottom = data[at + below] + (data[at + below + right] - data[at + below]) * fx;
  return top + (bottom - top) * fy;
};
