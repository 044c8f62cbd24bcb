import { describe, expect, it } from 'vitest';
import { createPaper } from '../../../sim/paper/paper.ts';

const figures = { widthDots: 20, dotsPerMm: 8, dotRadius: 0.65, tearMm: 2 };
const row = (...bytes: number[]) => Uint8Array.from(bytes);

const printed = (paper: ReturnType<typeof createPaper>, rows: number, begins = true, atUs = 0) => {
  for (let i = 0; i < rows; i++) {
    paper.heat(row(0xf0, i, 0xff), 1, false, begins && i === 0, atUs + i);
    paper.move(1);
  }
};

describe('the paper under the head', () => {
  it('reaches to the tear edge at first, and gives back exact dots', () => {
    const paper = createPaper(figures);
    expect(paper.at).toBe(16);
    printed(paper, 3);
    const { data, strideBytes, heightDots } = paper.dots(16, 20);
    expect({ strideBytes, heightDots }).toEqual({ strideBytes: 3, heightDots: 4 });
    // 20 dots: the last byte has four that lie beyond the head.
    expect([...data]).toEqual([0xf0, 0, 0xf0, 0xf0, 1, 0xf0, 0xf0, 2, 0xf0, 0, 0, 0]);
    expect(paper.line(19).dots).toBeNull();
  });

  it('adds ink where it is heated twice', () => {
    const paper = createPaper(figures);
    paper.heat(row(0x80, 0, 0), 0.5, false, true, 1);
    paper.heat(row(0x01, 0, 0), 1, false, false, 2);
    expect([...paper.dots(16, 17).data]).toEqual([0x81, 0, 0]);
    expect(paper.line(16)).toMatchObject({ drive: 1, atUs: 2 });
  });

  it('finds pictures between stretches of white, tears and rolls, with their parts', () => {
    const paper = createPaper(figures);
    printed(paper, 10, true, 1000);
    paper.move(5);
    printed(paper, 4, true, 2000);
    paper.move(40);
    printed(paper, 8, true, 3000);
    paper.mark('tear', paper.at, 0);
    printed(paper, 2, true, 4000);
    expect(
      paper.pictures().map(({ from, to, startUs, endUs, parts }) => ({ from, to, startUs, endUs, parts })),
    ).toEqual([
      {
        from: 16,
        to: 35,
        startUs: 1000,
        endUs: 2003,
        parts: [
          { from: 16, to: 26 },
          { from: 31, to: 35 },
        ],
      },
      { from: 75, to: 83, startUs: 3000, endUs: 3007, parts: [{ from: 75, to: 83 }] },
      { from: 83, to: 85, startUs: 4000, endUs: 4001, parts: [{ from: 83, to: 85 }] },
    ]);
    expect(paper.pictures(3)).toHaveLength(4);
  });

  it('keeps white rows that were printed inside their picture', () => {
    const paper = createPaper(figures);
    printed(paper, 1);
    for (let i = 0; i < 100; i++) {
      paper.heat(row(0, 0, 0), 1, false, false, i);
      paper.move(1);
    }
    printed(paper, 1, false);
    expect(paper.pictures()).toHaveLength(1);
  });

  it('forgets the oldest lines beyond what it has to keep', () => {
    const paper = createPaper(figures, 3000);
    for (let i = 0; i < 20; i++) {
      printed(paper, 500);
      paper.mark('tear', paper.at, i);
      paper.move(100);
    }
    expect(paper.length).toBe(16 + 12_000);
    expect(paper.length - paper.firstKept).toBeGreaterThanOrEqual(3000);
    expect(paper.length - paper.firstKept).toBeLessThan(3000 + 2048);
    expect(paper.marks.every(({ line }) => line >= paper.firstKept)).toBe(true);
    expect(paper.line(0).dots).toBeNull();
    expect(paper.pictures().at(-1)).toMatchObject({ to: 12_016 - 100 });
  });
});
