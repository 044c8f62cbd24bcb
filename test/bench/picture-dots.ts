import type { Look } from '../../src/config/schema.ts';
import { defaultConfig, lookSchema } from '../../src/config/schema.ts';
import type { Dots } from '../../src/parts/darkroom.ts';
import { createDeveloper } from '../../src/picture/develop.ts';
import type { Bitmap } from '../../src/picture/halftone/bits.ts';
import { halftoneOf } from '../../src/picture/halftone/named.ts';
import { linearOf } from '../../src/picture/transfer.ts';
import { havePhotos, photo, photoNames } from '../picture/photos.ts';
import type { BenchOptions } from './bench.ts';
import { decibels } from './eye-metric.ts';

const radius = 0.65;
const wanted = 32.5;
const caption = { shot: 1, takenAtMs: null };

export const bitsOf = ({ widthDots, heightDots, strideBytes, data }: Dots): Uint8Array =>
  Uint8Array.from({ length: widthDots * heightDots }, (_, i) => {
    const x = i % widthDots;
    return (data[Math.floor(i / widthDots) * strideBytes + (x >> 3)] >> (7 - (x & 7))) & 1;
  });

/** Tone as it is, so that nothing but the halftone is judged. */
const bare = (halftone: Look['halftone'], dotRadius: number) =>
  createDeveloper({
    picture: defaultConfig().picture,
    look: lookSchema.parse({ levels: 0, localContrast: 0, sharpen: 0, halftone }),
    profile: { widthDots: 384, dotRadius, toneCurve: [], dotsPerMm: 8 },
    cameraName: 'bench',
  });

/** A halftone on its own, not told that dots grow on paper. */
const untold = (halftone: Look['halftone'], ink: Float64Array): Uint8Array => {
  const bitmap: Bitmap = { width: 384, height: 512, data: new Uint8Array(ink.length) };
  halftoneOf(halftone, 1)(Float32Array.from(ink), bitmap);
  return bitmap.data;
};

/** Dots of Debian's photographs on the printed-dot model. */
export const benchDots = (say: (line: string) => void, { smoke }: BenchOptions): void => {
  if (!havePhotos) {
    say('picture: no photographs of python3-skimage here; nothing is judged');
    return;
  }
  const row = (title: string, halftone: Look['halftone'], dots: 'told' | 'untold', dotRadius = radius) => {
    const developer = bare(halftone, radius);
    const each = (smoke ? photoNames.slice(0, 1) : photoNames).map(name => {
      const luma = photo(name);
      const ink = Float64Array.from(developer.toneOf(luma), code => 1 - linearOf(code / 255));
      const bits = dots === 'told' ? bitsOf(developer.developLuma(luma, caption)) : untold(halftone, ink);
      return decibels(bits, ink, 384, 512, dotRadius);
    });
    const mean = each.reduce((a, b) => a + b, 0) / each.length;
    const judged = halftone === 'search' ? ` (≥ ${wanted}: ${mean >= wanted ? 'met' : 'NOT MET'})` : '';
    say(`  ${title.padEnd(44)} ${each.map(db => db.toFixed(1)).join('  ')}   ${mean.toFixed(2)}${judged}`);
  };
  say(`picture: decibels of ${photoNames.join(', ')} at 384 × 512, round dots of radius ${radius} pitch; mean`);
  row('Floyd–Steinberg on ideal square dots', 'floyd-steinberg', 'untold', 0);
  row('Floyd–Steinberg, gain left alone', 'floyd-steinberg', 'untold');
  row('Bayer, gain left alone', 'bayer', 'untold');
  row('Floyd–Steinberg after the gain curve', 'floyd-steinberg', 'told');
  row('Ostromoukhov after the gain curve', 'ostromoukhov', 'told');
  row('Zhou–Fang after the gain curve', 'zhou-fang', 'told');
  row('void and cluster after the gain curve', 'void-and-cluster', 'told');
  row('search', 'search', 'told');
};
