import type { Scene } from './view.ts';

/** A photo as light: luminance row by row, 0…1 linear. */
export interface Photo {
  name: string;
  widthPx: number;
  heightPx: number;
  /** Luma 0…255, sRGB. */
  luma: Uint8Array;
}

const linear = Float32Array.from({ length: 256 }, (_, code) => {
  const c = code / 255;
  return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
});

/**
 * The photo fills the part of the frame that is printed (width by height `aspect`); what lies beside it in the photo is
 * seen beside it in the frame, and its edge goes on where the photo ends.
 */
const fill = (photo: Photo, aspect: number, widthPx: number, heightPx: number, into: Float32Array) => {
  const seenWidth = Math.min(widthPx, heightPx * aspect);
  const zoom = Math.min(photo.widthPx / seenWidth, (photo.heightPx * aspect) / seenWidth);
  const left = (photo.widthPx - widthPx * zoom) / 2;
  const top = (photo.heightPx - heightPx * zoom) / 2;
  // Two taps a side of the pixel's own size: enough against aliasing for photos a few times larger than the frame.
  const taps = Math.max(1, Math.round(zoom));
  const column = (x: number) => Math.min(photo.widthPx - 1, Math.max(0, Math.floor(x)));
  const row = (y: number) => Math.min(photo.heightPx - 1, Math.max(0, Math.floor(y))) * photo.widthPx;
  const light = (x: number, y: number) => linear[photo.luma[row(y) + column(x)]];
  for (let y = 0; y < heightPx; y++) {
    for (let x = 0; x < widthPx; x++) {
      let sum = 0;
      for (let i = 0; i < taps; i++) {
        const sy = top + (y + (i + 0.5) / taps) * zoom - 0.5;
        const down = sy - Math.floor(sy);
        for (let j = 0; j < taps; j++) {
          const sx = left + (x + (j + 0.5) / taps) * zoom - 0.5;
          const right = sx - Math.floor(sx);
          const above = light(sx, sy) * (1 - right) + light(sx + 1, sy) * right;
          const below = light(sx, sy + 1) * (1 - right) + light(sx + 1, sy + 1) * right;
          sum += above * (1 - down) + below * down;
        }
      }
      into[y * widthPx + x] = sum / taps ** 2;
    }
  }
};

export interface Slides extends Scene {
  /** Goes on to the next photo, over again at the end. Frames from before still show the one before. */
  advance(atUs: number): void;
}

/** Shows one photo after the other. `aspect`: width by height of the part of the frame that is printed. */
export const createSlides = (photos: readonly Photo[], aspect: number): Slides => {
  const advancedUs: number[] = [];
  let cached: { key: string; light: Float32Array } | null = null;
  return {
    noise: 0.3,
    metered: false,
    brightness: () => 0.18,
    look(atUs, widthPx, heightPx, into) {
      let shown = advancedUs.length;
      while (shown > 0 && advancedUs[shown - 1] > atUs) shown--;
      const key = `${shown % photos.length} ${widthPx} ${heightPx}`;
      if (cached?.key !== key) {
        cached = { key, light: new Float32Array(widthPx * heightPx) };
        fill(photos[shown % photos.length], aspect, widthPx, heightPx, cached.light);
      }
      into.set(cached.light);
    },
    advance(atUs) {
      advancedUs.push(atUs);
    },
  };
};
