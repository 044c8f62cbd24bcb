import type { Curve } from '../../picture/dot-gain.ts';
import { along } from '../../picture/dot-gain.ts';

const columns = 50;
const rows = 20;

/** The curve in letters: ink on paper over dots asked; `·` is a printer without gain. */
export const plotCurve = (curve: Curve): string => {
  const grid = Array.from({ length: rows + 1 }, () => new Array<string>(columns + 1).fill(' '));
  const put = (share: number, ink: number, mark: string) => {
    grid[Math.round((1 - ink) * rows)][Math.round(share * columns)] = mark;
  };
  for (let x = 0; x <= columns; x++) put(x / columns, x / columns, '·');
  for (let x = 0; x <= columns; x++) put(x / columns, along(curve, x / columns), '─');
  for (const [share, ink] of curve) put(share, ink, '●');
  const lines = grid.map((line, row) => {
    const percent = 100 - (row * 100) / rows;
    return `${percent % 25 === 0 ? `${String(percent).padStart(4)} %` : '      '} │${line.join('').trimEnd()}`;
  });
  const axis = `       └${'─'.repeat(columns + 1)}`;
  const scale = [0, 25, 50, 75, 100].reduce(
    (line, percent) => line.padEnd(8 + Math.round((percent / 100) * columns) - (percent === 100 ? 2 : 0)) + percent,
    '',
  );
  return ['  ink on paper', ...lines, axis, `${scale} % dots asked`, ''].join('\n');
};
