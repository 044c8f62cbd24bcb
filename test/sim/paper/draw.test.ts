import { PNG } from 'pngjs';
import { describe, expect, it } from 'vitest';
import { drawStrip } from '../../../sim/paper/draw.ts';
import { layOut } from '../../../sim/paper/layout.ts';
import { createPaper } from '../../../sim/paper/paper.ts';

const figures = { widthDots: 64, dotsPerMm: 8, dotRadius: 0.65, tearMm: 2 };
const solid = new Uint8Array(8).fill(0xff);
const checked = new Uint8Array(8).fill(0xaa);

const paperWith = (rows: readonly { dots: Uint8Array; drive?: number; disturbed?: boolean }[]) => {
  const paper = createPaper(figures);
  rows.forEach(({ dots, drive = 1, disturbed = false }, i) => {
    paper.heat(dots, drive, disturbed, i === 0, i);
    paper.move(1);
  });
  paper.move(30);
  return paper;
};
const grey = (png: PNG, x: number, y: number) => png.data[(y * png.width + x) * 4];
/** Mean grey of a stretch of lines over the middle of the print. */
const meanOf = (paper: ReturnType<typeof createPaper>, from: number, to: number, pxPerDot = 3) => {
  const drawn = drawStrip(paper, 1, pxPerDot);
  const png = PNG.sync.read(Buffer.from(drawn.png()));
  const place = drawn.place(from, to)!;
  let sum = 0;
  let count = 0;
  for (let y = place.topPx; y < place.topPx + place.heightPx; y++)
    for (let x = place.leftPx + 48 * pxPerDot; x < place.leftPx + 96 * pxPerDot; x++, count++) sum += grey(png, x, y);
  return sum / count;
};

describe('the drawn strip', () => {
  it('is a PNG that a general reader reads, of the size it says, with warm white and the print’s resolution', () => {
    const drawn = drawStrip(paperWith([{ dots: solid }]), 5, 3);
    const bytes = drawn.png();
    const png = PNG.sync.read(Buffer.from(bytes));
    expect([png.width, png.height]).toEqual([drawn.widthPx, drawn.heightPx]);
    const { leftPx, topPx } = drawn.place(0, 10)!;
    const at = ((topPx + 25) * png.width + leftPx + 30) * 4;
    const [r, g, b] = png.data.subarray(at, at + 3);
    expect(r).toBeGreaterThan(225);
    expect(r).toBeGreaterThanOrEqual(g);
    expect(g).toBeGreaterThan(b);
    // pHYs: 8 dots/mm at 3 pixels a dot are 24,000 pixels a metre.
    const physical = Buffer.from(bytes).indexOf('pHYs');
    expect(Buffer.from(bytes).readUInt32BE(physical + 4)).toBe(24_000);
  });

  it('is the same for the same seed, and another for another', () => {
    const draw = (seed: number) => Buffer.from(drawStrip(paperWith([{ dots: checked }]), seed, 2).png());
    expect(draw(1).equals(draw(1))).toBe(true);
    expect(draw(1).equals(draw(2))).toBe(false);
  });

  it('draws dots that overlap: a half-tone darkens more than its share of dots, all black is black', () => {
    const area = 40;
    const white = meanOf(paperWith([{ dots: solid }]), 0, 10);
    const black = meanOf(paperWith(Array(area).fill({ dots: solid })), 20, 50);
    // A checkerboard, its dots not touching sideways but round and wider than their cell.
    const board = meanOf(
      paperWith(Array.from({ length: area }, (_, i) => ({ dots: checked.map(byte => (i % 2 ? byte : byte >> 1)) }))),
      20,
      50,
    );
    const cover = (white - board) / (white - black);
    expect(black).toBeLessThan(70);
    // π·0.65² = 1.327 of a cell, shared by half of the cells, less where neighbours overlap: more than half, less than 0.66.
    expect(cover).toBeGreaterThan(0.55);
    expect(cover).toBeLessThan(0.67);
  });

  it('prints a single dot as a disc of the asked radius', () => {
    const paper = paperWith([{ dots: Uint8Array.of(0, 0, 0, 0x80, 0, 0, 0, 0) }]);
    const drawn = drawStrip(paper, 1, 3);
    const { leftPx, topPx } = drawn.place(0, paper.length)!;
    const png = PNG.sync.read(Buffer.from(drawn.png()));
    const at = (x: number, y: number) => grey(png, leftPx + (40 + 24) * 3 - 15 + x, topPx + 16 * 3 - 15 + y);
    let white = 0;
    for (let x = 0; x < 30; x++) for (let y = 0; y < 6; y++) white += at(x, y) / 180;
    let ink = 0;
    for (let x = 8; x < 24; x++) for (let y = 8; y < 24; y++) ink += (white - at(x, y)) / (white - at(16, 16));
    // Nine pixels a cell: π·0.65² cells.
    expect(ink / 9).toBeGreaterThan(1.327 * 0.93);
    expect(ink / 9).toBeLessThan(1.327 * 1.07);
  });

  it('shows a pale line for little drive and a band for a disturbed one', () => {
    const rows = (change: object) =>
      Array.from({ length: 30 }, (_, i) => ({ dots: solid, ...(i === 15 ? change : {}) }));
    const plain = meanOf(paperWith(rows({})), 16 + 14, 16 + 17);
    expect(meanOf(paperWith(rows({ drive: 0.5 })), 30, 33)).toBeGreaterThan(plain + 20);
    expect(meanOf(paperWith(rows({ disturbed: true })), 30, 33)).toBeGreaterThan(plain + 5);
  });

  it('lays a long strip in columns, each picture whole, and says where it lies', () => {
    const paper = createPaper(figures);
    for (let picture = 0; picture < 12; picture++) {
      for (let i = 0; i < 300; i++) {
        paper.heat(checked, 1, false, i === 0, 0);
        paper.move(1);
      }
      paper.move(40);
      if (picture % 3 === 2) paper.mark('tear', paper.at - 16, 0);
    }
    const drawn = drawStrip(paper, 1, 1);
    const places = paper.pictures().map(({ from, to }) => drawn.place(from, to)!);
    expect(places).toHaveLength(12);
    expect(new Set(places.map(({ leftPx }) => leftPx)).size).toBeGreaterThan(2);
    for (const { leftPx, topPx, widthPx, heightPx } of places) {
      expect(heightPx).toBe(300);
      expect(leftPx + widthPx).toBeLessThan(drawn.widthPx);
      expect(topPx + heightPx).toBeLessThan(drawn.heightPx);
    }
    expect(drawn.widthPx / drawn.heightPx).toBeGreaterThan(0.4);
    expect(drawn.widthPx / drawn.heightPx).toBeLessThan(2.5);
  });

  it('shows only the end of a strip that is too long, and says how much is left out', () => {
    const paper = createPaper(figures);
    for (let i = 0; i < 5000; i++) {
      paper.heat(solid, 1, false, i === 0, 0);
      paper.move(1);
    }
    const layout = layOut(paper, 300_000);
    expect(layout.omittedLines).toBeGreaterThan(2000);
    expect(layout.pieces.at(-1)?.to).toBe(paper.length);
    expect(layout.pieces[0].from).toBe(layout.omittedLines);
  });

  it('draws paper on which nothing was printed', () => {
    const drawn = drawStrip(createPaper(figures), 1);
    expect(drawn.place(0, 5)).not.toBeNull();
    expect(PNG.sync.read(Buffer.from(drawn.png())).width).toBe(drawn.widthPx);
  });
});
