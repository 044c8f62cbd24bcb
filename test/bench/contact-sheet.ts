import { mkdirSync, writeFileSync } from 'node:fs';
import { chance } from '../../sim/random.ts';
import { defaultConfig, lookSchema } from '../../src/config/schema.ts';
import type { Dots } from '../../src/parts/darkroom.ts';
import { createDeveloper } from '../../src/picture/develop.ts';
import { builtInLooks } from '../../src/picture/looks.ts';
import type { Luma } from '../../src/picture/luma.ts';
import { createPaperView } from '../../src/picture/on-paper.ts';
import { writePng } from '../../src/picture/png.ts';
import { codedOf, linearTable } from '../../src/picture/transfer.ts';
import { havePhotos, photo } from '../picture/photos.ts';
import type { BenchOptions } from './bench.ts';

type Light = (light: number, u: number, v: number, noise: () => number) => number;

/** Light as parties have it; u and v run over the picture from 0 to 1. */
const lights: Readonly<Record<string, Light>> = {
  'as it is': light => light,
  'back-lit': (light, u, v) => light * (0.12 + 1.1 * Math.min(1, ((u - 0.5) ** 2 + (v - 0.55) ** 2) / 0.16)),
  dim: (light, _u, _v, noise) => 0.06 * light + 0.004 * noise(),
  harsh: (light, u) => Math.min(1, light * (2.6 / (1 + Math.exp((u - 0.5) * 14)) + 0.12)),
  noisy: (light, _u, _v, noise) => light + (0.05 + 0.09 * Math.sqrt(light)) * noise(),
};

const inLight = ({ widthPx, heightPx, data }: Luma, light: Light): Luma => {
  const luck = chance(7);
  return {
    widthPx,
    heightPx,
    data: Uint8Array.from(data, (code, i) => {
      const [u, v] = [(i % widthPx) / widthPx, Math.floor(i / widthPx) / heightPx];
      const lit = light(linearTable[code], u, v, luck.normal);
      return Math.round(255 * codedOf(Math.min(1, Math.max(0, lit))));
    }),
  };
};

const flats = [1 / 8, 1 / 4, 1 / 2, 3 / 4];
const profile = { widthDots: 384, dotRadius: 0.65, toneCurve: [], dotsPerMm: 8 };
const caption = { shot: 1, takenAtMs: null };
const picture = { ...defaultConfig().picture, aspect: 1 };

/** Every photograph in every light, the looks side by side, and flats of even ink: paper as drawn, to look at. */
export const benchSheet = (say: (line: string) => void, { smoke }: BenchOptions): void => {
  if (!havePhotos || smoke) {
    say('sheet: nothing to draw');
    return;
  }
  const names = ['astronaut', 'camera', 'chelsea', 'coffee'] as const;
  const soft = createDeveloper({ picture, look: builtInLooks.soft, profile, cameraName: 'slip' });
  const rows: Dots[][] = Object.values(lights).map(light =>
    names.map(name => soft.developLuma(inLight(photo(name), light), caption)),
  );
  const looks = Object.values(builtInLooks).map(look =>
    createDeveloper({ picture, look, profile, cameraName: 'slip' }).developLuma(photo('astronaut'), caption),
  );
  for (let i = 0; i < looks.length; i += names.length) rows.push(looks.slice(i, i + names.length));
  const even = createDeveloper({
    picture,
    look: lookSchema.parse({ levels: 0, localContrast: 0, sharpen: 0 }),
    profile,
    cameraName: 'slip',
  });
  rows.push(
    flats.map(ink => {
      const data = new Uint8Array(384 * 384).fill(Math.round(255 * codedOf(1 - ink)));
      return even.developLuma({ widthPx: 384, heightPx: 384, data }, caption);
    }),
  );
  const pxPerDot = 2;
  const draw = createPaperView(profile.dotRadius, pxPerDot, 8);
  const side = (384 + 16) * pxPerDot;
  const widthPx = side * names.length;
  const heightPx = side * rows.length;
  const data = new Uint8Array(widthPx * heightPx).fill(240);
  rows.forEach((row, j) => {
    row.forEach((dots, i) => {
      const view = draw(dots);
      for (let y = 0; y < side; y++)
        data.set(view.data.subarray(y * side, (y + 1) * side), (j * side + y) * widthPx + i * side);
    });
  });
  mkdirSync('dist', { recursive: true });
  writeFileSync('dist/contact-sheet.png', writePng({ widthPx, heightPx, bits: 8, data, dpi: 203 * pxPerDot }));
  say(
    `sheet: dist/contact-sheet.png, rows: ${Object.keys(lights).join(', ')}; looks ${Object.keys(builtInLooks).join(', ')}; flats of ${flats.join(', ')} ink`,
  );
};
