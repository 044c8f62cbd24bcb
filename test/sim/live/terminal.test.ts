import { describe, expect, it } from 'vitest';
import { faults } from '../../../sim/faults.ts';
import { mishaps } from '../../../sim/live/desk.ts';
import { createLiveTerminal, paperInBraille } from '../../../sim/live/terminal.ts';
import { createPaper } from '../../../sim/paper/paper.ts';
import { quickDesk, until } from './fixture.ts';

const lead = '\u001b\\[';
const placed = new RegExp(`${lead}(\\d+);1H([\\s\\S]*?)${lead}K`, 'g');
const coloured = new RegExp(`${lead}[0-9;]*m`, 'g');

/** What a terminal would show after all that was written: rows of plain characters. */
const screenOf = (columns: number, rows: number) => {
  const shown = Array.from({ length: rows }, () => '');
  const all: string[] = [];
  return {
    columns,
    rows,
    all,
    shown,
    write(text: string) {
      all.push(text);
      for (const [, row, line] of text.matchAll(placed)) shown[Number(row) - 1] = line.replace(coloured, '');
    },
  };
};

describe('paper in Braille', () => {
  it('puts each square of dots where it belongs, the newest at the bottom', () => {
    const paper = createPaper({ widthDots: 64, dotsPerMm: 8, dotRadius: 0.65, tearMm: 2 });
    // Sixteen lines were white; of the next sixteen the first four are black in the leftmost eight dots.
    for (let i = 0; i < 16; i++) {
      paper.heat(Uint8Array.of(i < 4 ? 0xff : 0, 0, 0, 0, 0, 0, 0, i >= 12 ? 0x0f : 0), 1, false, i === 0, i);
      paper.move(1);
    }
    const [above, below] = paperInBraille(paper, 2);
    expect(above).toBe(' '.repeat(8));
    // Points 1 and 4 are the upper two, point 8 the lower right one (Unicode, Braille patterns).
    expect(below).toBe(`\u2809${' '.repeat(6)}\u2880`);
    expect(paperInBraille(paper, 4)[0]).toBe(' '.repeat(8));
  });

  it('keeps tones: half of the dots are about half of the points', () => {
    const paper = createPaper({ widthDots: 384, dotsPerMm: 8, dotRadius: 0.65, tearMm: 2 });
    for (let i = 0; i < 160; i++) {
      paper.heat(new Uint8Array(48).fill(i % 2 ? 0xaa : 0x55), 1, false, false, i);
      paper.move(1);
    }
    const points = [...paperInBraille(paper, 8).join('')].reduce(
      (sum, sign) => sum + (sign === ' ' ? 0 : (sign.codePointAt(0)! - 0x2800).toString(2).replaceAll('0', '').length),
      0,
    );
    expect(points / (8 * 48 * 8)).toBeCloseTo(0.5, 2);
  });
});

describe('the desk in a terminal', () => {
  it.each([
    [150, 45],
    [80, 24],
  ])('fits %i × %i, and tells lamp, states, mishaps and keys', (columns, rows) => {
    const screen = screenOf(columns, rows);
    const terminal = createLiveTerminal(quickDesk(), screen, 'http://127.0.0.1:1/');
    terminal.draw();
    const text = screen.shown.join('\n');
    for (const line of screen.shown) expect([...line].length).toBeLessThanOrEqual(columns);
    for (const words of [
      '● steady: press',
      'roll 20.00 m',
      'exposure  ready',
      ...mishaps.map(({ name, key }) => `${key}  ${faults[name].what}`),
      'motor still',
      'space press',
      'q quit',
      '127.0.0.1',
    ])
      expect(text).toContain(words);
    terminal.close();
    expect(screen.all.at(-1)).toContain('\x1b[?25h');
  });

  it('presses, harms and heals by keys, and leaves with q or ^C', () => {
    const desk = quickDesk();
    const screen = screenOf(150, 45);
    const terminal = createLiveTerminal(desk, screen, '');
    expect(terminal.key('p')).toBe(false);
    expect(desk.standing().wrong).toEqual(['paper-out']);
    terminal.key('r');
    expect(desk.standing().wrong).toEqual([]);
    terminal.key(' ');
    until(desk, () => desk.standing().line > 350);
    terminal.draw();
    expect(screen.shown.join('\n')).toMatch(/press 1[\s\S]*kept 1/);
    expect(screen.shown.join('')).toMatch(/[\u2801-\u28ff]{20}/);
    expect(terminal.key('z\u00e9')).toBe(false);
    expect(terminal.key('q')).toBe(true);
    expect(terminal.key('\x03')).toBe(true);
  });

  it('writes only the lines that changed', () => {
    const screen = screenOf(120, 40);
    const terminal = createLiveTerminal(quickDesk(), screen, '');
    terminal.draw();
    const before = screen.all.length;
    terminal.draw();
    expect(screen.all.length).toBe(before);
  });
});
