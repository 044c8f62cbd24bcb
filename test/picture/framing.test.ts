import { spawnSync } from 'node:child_process';
import { existsSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { createFramer, type Framing } from '../../src/picture/framing.ts';
import { type Luma, pixelsOfLuma } from '../../src/picture/luma.ts';
import { linearOf } from '../../src/picture/transfer.ts';
import { havePhotos, photo, python } from './photos.ts';

const framing = (given: Partial<Framing>): Framing => ({
  rotate: 0,
  mirror: false,
  along: false,
  widthDots: 30,
  heightDots: 40,
  ...given,
});
const framed = (luma: Luma, given: Partial<Framing>): Float32Array =>
  createFramer(framing(given), luma.widthPx, luma.heightPx)(pixelsOfLuma(luma)).map(code => linearOf(code / 255));
/** A picture without any symmetry. */
const scene = (widthPx: number, heightPx: number): Luma => ({
  widthPx,
  heightPx,
  data: Uint8Array.from({ length: widthPx * heightPx }, (_, i) => {
    const [u, v] = [(i % widthPx) / widthPx, Math.floor(i / widthPx) / heightPx];
    return 60 + 120 * u + 60 * v * v * (u < 0.3 ? 0.4 : 1);
  }),
});
const turnRight = ({ widthPx: w, heightPx: h, data }: Luma): Luma => ({
  widthPx: h,
  heightPx: w,
  data: Uint8Array.from({ length: w * h }, (_, i) => data[(h - 1 - (i % h)) * w + Math.floor(i / h)]),
});
const far = (a: Float32Array, b: Float32Array) => Math.max(...a.map((value, i) => Math.abs(value - b[i])));

describe('framing', () => {
  // sRGB, IEC 61966-2-1: code 188 is 0.50289 of light (calculated).
  it('even light stays even, whatever the sizes', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 90 }),
        fc.integer({ min: 1, max: 90 }),
        fc.integer({ min: 1, max: 60 }),
        fc.integer({ min: 1, max: 60 }),
        fc.constantFrom(0 as const, 90 as const, 180 as const, 270 as const),
        fc.boolean(),
        (w, h, widthDots, heightDots, rotate, along) => {
          const luma = { widthPx: w, heightPx: h, data: new Uint8Array(w * h).fill(188) };
          for (const light of framed(luma, { widthDots, heightDots, rotate, along }))
            expect(light).toBeCloseTo(0.50289, 3);
        },
      ),
      { numRuns: 150 },
    );
  });
  it('every code comes out as itself, off by less than 0.03', () => {
    const frame = createFramer(framing({ widthDots: 256, heightDots: 1 }), 256, 1);
    const codes = frame(
      pixelsOfLuma({ widthPx: 256, heightPx: 1, data: Uint8Array.from({ length: 256 }, (_, i) => i) }),
    );
    codes.forEach((code, i) => {
      expect(Math.abs(code - i)).toBeLessThan(0.03);
    });
  });
  it('a quarter turn is a turned picture; four of them are none; mirrored twice is none', () => {
    const luma = scene(120, 90);
    expect(far(framed(luma, { rotate: 90 }), framed(turnRight(luma), {}))).toBeLessThan(1e-5);
    expect(far(framed(luma, { rotate: 180 }), framed(turnRight(turnRight(luma)), {}))).toBeLessThan(1e-5);
    expect(far(framed(turnRight(luma), { rotate: 270 }), framed(luma, {}))).toBeLessThan(1e-5);
    const plain = framed(luma, {});
    const mirrored = framed(luma, { mirror: true });
    plain.forEach((light, i) => {
      expect(mirrored[Math.floor(i / 30) * 30 + 29 - (i % 30)]).toBeCloseTo(light, 6);
    });
  });
  it('along the paper, the top of the picture lies at the right', () => {
    const luma = scene(120, 90);
    const across = framed(luma, { widthDots: 40, heightDots: 30 });
    const along = framed(luma, { along: true, widthDots: 30, heightDots: 40 });
    for (let y = 0; y < 30; y++)
      for (let x = 0; x < 40; x++) expect(along[x * 30 + 29 - y]).toBeCloseTo(across[y * 40 + x], 6);
  });
  it('crops to the format from the middle', () => {
    const luma = { widthPx: 300, heightPx: 100, data: new Uint8Array(30_000) };
    for (let y = 0; y < 100; y++) luma.data.fill(255, y * 300 + 100, y * 300 + 200);
    for (const light of framed(luma, { widthDots: 50, heightDots: 100 })) expect(light).toBeCloseTo(1, 5);
  });
  it('mixes light, not codes: fine black and white lines come out at half the light', () => {
    const luma = { widthPx: 400, heightPx: 400, data: Uint8Array.from({ length: 160_000 }, (_, i) => (i % 2) * 255) };
    const light = framed(luma, { widthDots: 50, heightDots: 50 });
    expect(light.reduce((a, b) => a + b) / light.length).toBeCloseTo(0.5, 3);
  });
  it.skipIf(!havePhotos || !existsSync(python))(
    'is close to Pillow’s Lanczos on linear light (needs python3-skimage and python3-pil)',
    () => {
      const luma = photo('astronaut');
      const linear = Float32Array.from(luma.data, code => linearOf(code / 255));
      const words =
        "import sys;from PIL import Image;i=Image.frombytes('F',(512,512),sys.stdin.buffer.read());sys.stdout.buffer.write(i.resize((192,256),Image.LANCZOS,box=(64,0,448,512)).tobytes())";
      const { stdout } = spawnSync(python, ['-c', words], { input: Buffer.from(linear.buffer), maxBuffer: 1e8 });
      const theirs = new Float32Array(new Uint8Array(stdout).buffer);
      const ours = framed(luma, { widthDots: 192, heightDots: 256 });
      const error = ours.reduce((sum, light, i) => sum + (light - Math.min(1, Math.max(0, theirs[i]))) ** 2, 0);
      // Theirs has three lobes, ours two, so that hard edges ring less: the difference is all in the finest detail.
      expect(-10 * Math.log10(error / ours.length)).toBeGreaterThan(36);
    },
  );
});
