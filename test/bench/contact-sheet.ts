import { mkdirSync, writeFileSync } from 'node:fs';
import { createVirtualClock } from '../../sim/clock.ts';
import { chance } from '../../sim/random.ts';
import { createScene, type SceneName, sceneNames } from '../../sim/scene.ts';
import { createTraces } from '../../sim/traces.ts';
import { createVirtualWebcam } from '../../sim/webcam.ts';
import { defaultConfig, type Look, lookSchema } from '../../src/config/schema.ts';
import type { Dots } from '../../src/parts/darkroom.ts';
import type { Frame } from '../../src/parts/webcam.ts';
import { drawWords } from '../../src/picture/caption.ts';
import { createDeveloper } from '../../src/picture/develop.ts';
import { builtInLooks } from '../../src/picture/looks.ts';
import { type Luma, lumaOf } from '../../src/picture/luma.ts';
import { createPaperView } from '../../src/picture/on-paper.ts';
import { writePng } from '../../src/picture/png.ts';
import { emptyDots, packRows } from '../../src/picture/strip.ts';
import { codedOf, linearTable } from '../../src/picture/transfer.ts';
import { havePhotos, photo, photoNames } from '../picture/photos.ts';
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
const columns = 5;
const wordRows = 32;
const pxPerDot = 2;

interface Cell {
  title: string;
  dots: Dots;
}

const developed = (look: Look, luma: Luma): Dots =>
  createDeveloper({ picture, look, profile, cameraName: 'slip' }).developLuma(luma, caption);

/** What the simulator's webcam sees of a scene once its exposure has come to rest. */
const simulated = (name: SceneName): Luma => {
  const clock = createVirtualClock();
  const webcam = createVirtualWebcam(
    clock,
    createTraces(clock.nowUs),
    {
      format: 'YUYV',
      widthPx: 640,
      heightPx: 480,
      framesPerSecond: 30,
      warmupFrames: 5,
      frameTimeoutMs: 1500,
      huffmanTables: true,
      seed: 3,
      turn: 0,
      traceEveryFrame: true,
    },
    createScene(name, 3),
    () => 0,
  );
  let last: Frame | null = null;
  webcam.open(() => {});
  webcam.watch(frame => {
    last = frame;
  });
  clock.runUntil(3e6);
  if (last === null) throw new Error(`no frame came of ${name}`);
  return lumaOf(last);
};

/** The cell's title under its dots. */
const titled = ({ title, dots }: Cell): Dots => {
  const whole = emptyDots(dots.widthDots, dots.heightDots + wordRows);
  whole.data.set(dots.data);
  const line = { width: dots.widthDots, height: wordRows, data: new Uint8Array(dots.widthDots * wordRows) };
  drawWords(title, line, profile.dotsPerMm);
  packRows(line, whole, 0, dots.heightDots, 0, wordRows);
  return whole;
};

const photographs = (): Cell[][] =>
  Object.entries(lights).map(([light, change]) =>
    photoNames.map(name => ({
      title: `${name}, ${light}`,
      dots: developed(builtInLooks.soft, inLight(photo(name), change)),
    })),
  );

const scenes = (): Cell[] =>
  sceneNames.map(name => ({ title: `simulator, ${name}`, dots: developed(builtInLooks.soft, simulated(name)) }));

/** The same photograph by every look, and toned as in the first of them, by plainer halftones. */
const looksAndHalftones = (luma: Luma): Cell[] => [
  ...Object.entries(builtInLooks).map(([name, look]) => ({ title: `look ${name}`, dots: developed(look, luma) })),
  ...(['floyd-steinberg', 'ostromoukhov', 'void-and-cluster'] as const).map(halftone => ({
    title: halftone,
    dots: developed({ ...builtInLooks.soft, halftone }, luma),
  })),
];

const evenInk = (): Cell[] =>
  flats.map(ink => {
    const data = new Uint8Array(384 * 384).fill(Math.round(255 * codedOf(1 - ink)));
    const bare = lookSchema.parse({ levels: 0, localContrast: 0, sharpen: 0 });
    return { title: `${ink} ink, search`, dots: developed(bare, { widthPx: 384, heightPx: 384, data }) };
  });

const drawSheet = (rows: readonly (readonly Cell[])[]): Uint8Array => {
  const draw = createPaperView(profile.dotRadius, pxPerDot, 8);
  const side = (384 + 16) * pxPerDot;
  const tall = side + wordRows * pxPerDot;
  const [widthPx, heightPx] = [side * columns, tall * rows.length];
  const data = new Uint8Array(widthPx * heightPx).fill(240);
  rows.forEach((row, j) => {
    row.forEach((cell, i) => {
      const view = draw(titled(cell));
      for (let y = 0; y < tall; y++)
        data.set(view.data.subarray(y * side, (y + 1) * side), (j * tall + y) * widthPx + i * side);
    });
  });
  return writePng({ widthPx, heightPx, bits: 8, data, dpi: 203 * pxPerDot });
};

const inRows = (cells: readonly Cell[]): Cell[][] =>
  Array.from({ length: Math.ceil(cells.length / columns) }, (_, row) =>
    cells.slice(row * columns, (row + 1) * columns),
  );

/**
 * Paper as drawn, to look at: every photograph in every light, the simulator's scenes as its webcam sees them, one
 * photograph by all looks and by plainer halftones, flats of even ink. What it shows is written on it.
 */
export const benchSheet = (say: (line: string) => void, { smoke }: BenchOptions): void => {
  if (smoke) {
    say('sheet: nothing to draw');
    return;
  }
  const rows = [
    ...(havePhotos ? photographs() : []),
    scenes(),
    ...(havePhotos ? inRows(looksAndHalftones(photo('astronaut'))) : []),
    evenInk(),
  ];
  mkdirSync('dist', { recursive: true });
  writeFileSync('dist/contact-sheet.png', drawSheet(rows));
  const without = havePhotos ? '' : ', without the photographs of python3-skimage';
  say(`sheet: dist/contact-sheet.png, ${rows.flat().length} pictures, each with its title${without}`);
};
