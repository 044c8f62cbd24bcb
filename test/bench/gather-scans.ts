import { encodeJpeg } from '../../sim/mjpeg.ts';
import { chance } from '../../sim/random.ts';
import { cleanWear, type Scan, type ScanWear, takeScan } from '../../sim/scanner/scanner.ts';
import type { Grey } from '../../src/gather/grey.ts';
import { bareShare, descreen } from '../../src/gather/restore.ts';
import { gatherScan } from '../../src/gather/scan.ts';
import type { Dots } from '../../src/parts/darkroom.ts';
import { decodePhoto } from '../../src/picture/image.ts';
import { diffuse, stripOf, toneImage } from '../gather/fixture.ts';

/** A kind of scan; wear is invented, drawn wide around what a strip in a pocket goes through. */
export interface Kind {
  name: string;
  dpi: number;
  wear: Partial<ScanWear>;
  /** Which goal its dots count for; none where a dot is too few pixels. */
  dots?: 'clean' | 'faded';
  pictures?: number;
  jpegQuality?: number;
  share: number;
}

export const kinds: readonly Kind[] = [
  { name: 'flatbed', dpi: 600, wear: {}, dots: 'clean', share: 2 },
  {
    name: 'uneven feed, curl',
    dpi: 600,
    wear: { feedJitterDots: 0.05, feedScale: 1.01, curlDots: 2 },
    dots: 'clean',
    share: 2,
  },
  {
    name: 'faded',
    dpi: 600,
    wear: { fading: 0.6, noise: 3, blurPx: 0.9, shading: 0.2, feedJitterDots: 0.03 },
    dots: 'faded',
    share: 2,
  },
  {
    name: 'faded, dusty, stained, curled',
    dpi: 600,
    wear: { curlDots: 3, feedJitterDots: 0.06, shading: 0.2, fading: 0.35, dust: 10, stains: 1, noise: 4, blurPx: 1 },
    dots: 'faded',
    share: 2,
  },
  { name: 'coarse flatbed', dpi: 200, wear: {}, share: 6 },
  { name: 'faded', dpi: 300, wear: { fading: 0.6, noise: 4 }, share: 6 },
  { name: 'coffee, dust, shadow', dpi: 300, wear: { stains: 2, dust: 20, shading: 0.3 }, share: 6 },
  { name: 'feed scanner', dpi: 300, wear: { feedJitterDots: 0.04, feedScale: 0.99 }, pictures: 3, share: 6 },
  {
    name: 'phone, near',
    dpi: 350,
    wear: { perspective: 0.06, curlDots: 3, shading: 0.4, blurPx: 1.2, noise: 6, background: 90 },
    jpegQuality: 85,
    share: 6,
  },
  {
    name: 'phone, far',
    dpi: 250,
    wear: { perspective: 0.04, curlDots: 2, shading: 0.3, blurPx: 0.9, noise: 5, background: 90 },
    jpegQuality: 75,
    share: 6,
  },
];

/** Scan `index` of all: which kind, by the kinds' shares. */
export const kindOf = (index: number): Kind => {
  const deck = kinds.flatMap(kind => Array.from({ length: kind.share }, () => kind));
  return deck[index % deck.length];
};

/** What came of one scan. */
export interface Outcome {
  kind: string;
  pictures: number;
  read: number;
  wrong: number;
  /** Share of wrong dots of each picture; 1 where they weren't read or another number of rows was found. */
  bitErrors: number[];
  /** Distance of each corner from where it is, in dots. */
  cornersDots: number[];
}

const asJpeg = (image: Grey, quality: number): Grey => {
  // Whole blocks, so that nothing depends on how a writer fills them up.
  const [widthPx, heightPx] = [image.widthPx & ~15, image.heightPx & ~15];
  const data = new Uint8Array(widthPx * heightPx);
  for (let y = 0; y < heightPx; y++)
    data.set(image.data.subarray(y * image.widthPx, y * image.widthPx + widthPx), y * widthPx);
  return decodePhoto(encodeJpeg(data, widthPx, heightPx, { cb: 128, cr: 128 }, { quality }), 'scan');
};

const wrongShare = (a: Dots, b: Dots): number => {
  if (a.widthDots !== b.widthDots || a.heightDots !== b.heightDots) return 1;
  let wrong = 0;
  for (let i = 0; i < b.strideBytes * b.heightDots; i++)
    for (let bits = a.data[i] ^ b.data[i]; bits; bits &= bits - 1) wrong++;
  return wrong / (b.widthDots * b.heightDots);
};

const seedOf = (index: number) => 70_001 + index;

/** Draws scan `index`, gathers it, and holds it against what was printed. */
export const tryScan = (index: number): Outcome => {
  const kind = kindOf(index);
  const draw = chance(seedOf(index));
  const count = kind.pictures ?? 1;
  const printed = Array.from({ length: count }, () => {
    const height = draw.whole(140, 240);
    return { shot: draw.whole(1, 999_999), body: diffuse(toneImage(384, height, draw), 384, height) };
  });
  const strip = stripOf(printed);
  const longMm = strip.dots.heightDots / 8 + 16;
  // A single picture lies at any angle; a strip through a feed scanner nearly straight, either end first.
  const single = count === 1;
  const side = Math.hypot(longMm, 60);
  const [widthMm, heightMm] = single ? [side, side] : [66, longMm + 8];
  const turnDegrees = single ? draw.next() * 360 : draw.normal() + (draw.hit(0.5) ? 180 : 0);
  const scan: Scan = takeScan(
    [{ dots: strip.dots, xMm: widthMm / 2, yMm: heightMm / 2, turnDegrees }],
    { widthMm, heightMm, dpi: kind.dpi },
    { ...cleanWear, ...kind.wear },
    draw,
  );
  const image = kind.jpegQuality === undefined ? scan.image : asJpeg(scan.image, kind.jpegQuality);
  const { pictures } = gatherScan(image, dots => descreen(bareShare(dots, 0.65)));
  const outcome: Outcome = {
    kind: `${kind.name}, ${kind.dpi} dpi`,
    pictures: count,
    read: 0,
    wrong: 0,
    bitErrors: [],
    cornersDots: [],
  };
  const named = pictures.filter(({ name }) => name);
  printed.forEach(({ shot, body }, k) => {
    const found = named.find(({ name }) => name?.mark === 'SLIP' && name.shot === shot);
    if (kind.dots) outcome.bitErrors.push(found?.dots ? wrongShare(found.dots, body) : 1);
    if (!found) return;
    outcome.read++;
    [0, 1, 2, 3].forEach(corner => {
      const truth = scan.place(
        0,
        corner === 1 || corner === 2 ? 384 : 0,
        strip.bodyTops[k] + (corner >= 2 ? body.heightDots : 0),
      );
      const { x, y } = found.corners[corner];
      outcome.cornersDots.push(Math.hypot(x - truth.x, y - truth.y) / found.pxPerDot);
    });
  });
  outcome.wrong = named.length - outcome.read;
  return outcome;
};
