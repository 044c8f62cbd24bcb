import { describe, expect, it } from 'vitest';
import { createSlides } from '../../sim/photos.ts';
import { createScene, sceneNames } from '../../sim/scene.ts';

const [width, height] = [160, 90];
const look = (scene: ReturnType<typeof createScene>, atS: number): Float32Array => {
  const light = new Float32Array(width * height);
  scene.look(atS * 1e6, width, height, light);
  return light;
};
const mean = (light: Float32Array) => light.reduce((sum, value) => sum + value, 0) / light.length;
const difference = (a: Float32Array, b: Float32Array) =>
  a.reduce((sum, v, i) => sum + Math.abs(v - b[i]), 0) / a.length;

describe('the party before the lens', () => {
  it('looks the same at the same moment, and moves', () => {
    const scene = createScene('party', 3);
    const before = look(scene, 2);
    look(scene, 30);
    expect(look(createScene('party', 3), 2)).toEqual(before);
    expect(look(scene, 2)).toEqual(before);
    expect(difference(before, look(scene, 2.8))).toBeGreaterThan(0.001);
    expect(difference(before, look(createScene('party', 4), 2))).toBeGreaterThan(0.01);
  });

  it('tells its brightness about right, for the exposure to follow', () => {
    for (const name of sceneNames) {
      const scene = createScene(name, 1);
      const clipped = look(scene, 3).map(value => Math.min(value, 1.5));
      expect(scene.brightness(3e6) / mean(clipped)).toBeGreaterThan(0.8);
      expect(scene.brightness(3e6) / mean(clipped)).toBeLessThan(1.25);
    }
  });

  it('is dim where it is dim, and has a window where it is back-lit', () => {
    const at = (name: (typeof sceneNames)[number]) => look(createScene(name, 1), 3);
    expect(mean(at('dim'))).toBeLessThan(0.2 * mean(at('party')));
    expect(at('back-lit').filter(value => value > 1).length).toBeGreaterThan(0.02 * width * height);
    expect(createScene('noisy').noise).toBeGreaterThan(createScene('party').noise);
  });

  it('is finite light everywhere', () => {
    for (const name of sceneNames) {
      for (const value of look(createScene(name, 2), 17)) {
        expect(Number.isFinite(value)).toBe(true);
        expect(value).toBeGreaterThanOrEqual(0);
      }
    }
  });
});

describe('slides', () => {
  const photo = (code: number, widthPx = 30, heightPx = 40) => ({
    name: `${code}`,
    widthPx,
    heightPx,
    luma: new Uint8Array(widthPx * heightPx).fill(code),
  });

  it('advance for frames from then on, and come round again', () => {
    const slides = createSlides([photo(0), photo(255)], 0.75);
    const at = (atUs: number) => {
      const light = new Float32Array(4);
      slides.look(atUs, 2, 2, light);
      return light[0];
    };
    expect(at(5)).toBe(0);
    slides.advance(10);
    expect([at(9), at(10)]).toEqual([0, 1]);
    slides.advance(20);
    expect([at(15), at(20)]).toEqual([1, 0]);
  });

  // sRGB (IEC 61966-2-1): code 188 is 0.50289 of light (calculated).
  it('show linear light', () => {
    const light = new Float32Array(4);
    createSlides([photo(188)], 0.75).look(0, 2, 2, light);
    expect(light[3]).toBeCloseTo(0.50289, 4);
  });

  it('fill the part of the frame that is printed, wide or tall', () => {
    // White all over but for a black edge of one pixel: the printed part must show the edge on two sides at least.
    for (const [w, h] of [
      [60, 40],
      [40, 60],
      [30, 40],
    ] as const) {
      const luma = new Uint8Array(w * h).fill(255);
      for (let x = 0; x < w; x++) luma[x] = luma[(h - 1) * w + x] = 0;
      for (let y = 0; y < h; y++) luma[y * w] = luma[y * w + w - 1] = 0;
      const slides = createSlides([{ name: 'edge', widthPx: w, heightPx: h, luma }], 0.75);
      const light = new Float32Array(160 * 90);
      slides.look(0, 160, 90, light);
      // 90 · 0.75 = 67.5 wide, in the middle.
      const seen = (x: number, y: number) => light[y * 160 + x] < 0.5;
      const [left, right] = [47, 112];
      const sides = [
        [left, 45],
        [right, 45],
        [80, 0],
        [80, 89],
      ].filter(([x, y]) => seen(x, y));
      expect(sides.length).toBeGreaterThanOrEqual(2);
      expect(seen(80, 45)).toBe(false);
    }
  });
});
