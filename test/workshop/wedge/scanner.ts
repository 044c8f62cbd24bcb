import { chance } from '../../../sim/random.ts';
import { createGrey, type Grey } from '../../../src/gather/grey.ts';
import { homographyFrom, project } from '../../../src/gather/homography.ts';
import type { Dots } from '../../../src/parts/darkroom.ts';

/** A scanner or phone with known properties: round dots on paper, light mixed in linear reflectance, coded as sRGB. */
export interface Glass {
  dotRadius: number;
  pxPerDot: number;
  turnDegrees: number;
  /** Shift of the corners by perspective, share of the width. */
  perspective: number;
  /** Light lost towards one corner, 0…1. */
  shading: number;
  /** Standard deviation of noise, codes. */
  noise: number;
  /** Code of the table around the paper. */
  table: number;
  mirrored: boolean;
  paper: number;
  ink: number;
}
export const flatbed: Glass = {
  dotRadius: 0.65,
  pxPerDot: 3,
  turnDegrees: 0,
  perspective: 0,
  shading: 0,
  noise: 1,
  table: 235,
  mirrored: false,
  paper: 0.82,
  ink: 0.05,
};

const srgb = (light: number): number =>
  255 * (light <= 0.0031308 ? 12.92 * light : 1.055 * Math.max(0, light) ** (1 / 2.4) - 0.055);
const fine = 12;
const taps = 2;

export const scanOf = (dots: Dots, wishes: Partial<Glass>, seed = 1): Grey => {
  const glass = { ...flatbed, ...wishes };
  const luck = chance(seed);
  const { widthDots, heightDots, strideBytes, data } = dots;
  const edge = 40;
  const [wide, high] = [(widthDots + 2 * edge) * fine, (heightDots + 2 * edge) * fine];
  const inked = new Uint8Array(wide * high);
  const r = glass.dotRadius * fine;
  for (let y = 0; y < heightDots; y++)
    for (let x = 0; x < widthDots; x++) {
      if (((data[y * strideBytes + (x >> 3)] >> (7 - (x & 7))) & 1) === 0) continue;
      const [cx, cy] = [(x + edge + 0.5) * fine, (y + edge + 0.5) * fine];
      for (let v = Math.floor(cy - r); v <= cy + r; v++)
        for (let u = Math.floor(cx - r); u <= cx + r; u++)
          if ((u + 0.5 - cx) ** 2 + (v + 0.5 - cy) ** 2 < r * r) inked[v * wide + u] = 1;
    }
  const diagonal = Math.ceil(Math.hypot(wide, high) / fine + 40) * glass.pxPerDot;
  const image = createGrey(Math.round(diagonal), Math.round(diagonal));
  const turn = (glass.turnDegrees * Math.PI) / 180;
  const paperCorners = [
    [0, 0],
    [wide, 0],
    [wide, high],
    [0, high],
  ].map(([x, y]) => ({ x, y }));
  const seen = paperCorners.map(({ x, y }) => {
    const [dx, dy] = [((x - wide / 2) / fine) * (glass.mirrored ? -1 : 1), (y - high / 2) / fine];
    const shift = () => (luck.next() - 0.5) * 2 * glass.perspective * widthDots;
    return {
      x: diagonal / 2 + (dx * Math.cos(turn) - dy * Math.sin(turn) + shift()) * glass.pxPerDot,
      y: diagonal / 2 + (dx * Math.sin(turn) + dy * Math.cos(turn) + shift()) * glass.pxPerDot,
    };
  });
  const back = homographyFrom(seen, paperCorners);
  if (!back) throw new Error('the view is degenerate');
  for (let y = 0; y < image.heightPx; y++)
    for (let x = 0; x < image.widthPx; x++) {
      let sum = 0;
      let onTable = 0;
      for (let t = 0; t < taps * taps; t++) {
        const p = project(back, x + ((t % taps) + 0.5) / taps - 0.5, y + (Math.floor(t / taps) + 0.5) / taps - 0.5);
        const [u, v] = [Math.floor(p.x), Math.floor(p.y)];
        if (u < 0 || v < 0 || u >= wide || v >= high) onTable++;
        else sum += inked[v * wide + u] ? glass.ink : glass.paper;
      }
      const light = 1 - glass.shading * ((x + y) / (image.widthPx + image.heightPx));
      const code =
        2 * onTable > taps * taps ? glass.table * light : srgb((light * sum) / Math.max(1, taps * taps - onTable));
      image.data[y * image.widthPx + x] = Math.max(0, Math.min(255, Math.round(code + luck.normal() * glass.noise)));
    }
  return image;
};
