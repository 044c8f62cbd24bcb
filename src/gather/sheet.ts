import { drawWords } from '../picture/caption.ts';
import type { Grey } from './grey.ts';
import { createGrey, sample } from './grey.ts';

const cellPx = 220;
const gapPx = 14;

/** Height of the line of words under each picture. */
const wordsPx = 24;

/** Small pictures side by side on white, each with its title under it: the contact sheet as one image. */
export const contactSheet = (entries: readonly { title: string; picture: Grey }[], across = 5): Grey => {
  const pictures = entries.map(({ picture }) => picture);
  const columns = Math.min(across, Math.max(1, pictures.length));
  const shapes = pictures.map(({ widthPx, heightPx }) => {
    const scale = Math.min(cellPx / widthPx, (cellPx * 4) / 3 / heightPx);
    return {
      widthPx: Math.max(1, Math.round(widthPx * scale)),
      heightPx: Math.max(1, Math.round(heightPx * scale)),
      scale,
    };
  });
  const rows = Math.max(1, Math.ceil(pictures.length / columns));
  const rowHeights = Array.from({ length: rows }, (_, row) =>
    Math.max(1, ...shapes.slice(row * columns, (row + 1) * columns).map(({ heightPx }) => heightPx)),
  );
  const sheet = createGrey(
    columns * (cellPx + gapPx) + gapPx,
    rowHeights.reduce((sum, height) => sum + height + wordsPx + gapPx, gapPx),
  );
  sheet.data.fill(255);
  let top = gapPx;
  for (let row = 0; row < rows; row++) {
    for (let column = 0; column < columns && row * columns + column < pictures.length; column++) {
      const picture = pictures[row * columns + column];
      const { widthPx, heightPx, scale } = shapes[row * columns + column];
      const left = gapPx + column * (cellPx + gapPx) + Math.floor((cellPx - widthPx) / 2);
      // Several samples a pixel where the picture is made smaller, so that halftones don't flicker.
      const fine = Math.max(1, Math.ceil(1 / scale));
      for (let y = 0; y < heightPx; y++)
        for (let x = 0; x < widthPx; x++) {
          let sum = 0;
          for (let v = 0; v < fine; v++)
            for (let u = 0; u < fine; u++)
              sum += sample(picture, (x + (u + 0.5) / fine) / scale - 0.5, (y + (v + 0.5) / fine) / scale - 0.5);
          sheet.data[(top + y) * sheet.widthPx + left + x] = Math.round(sum / fine ** 2);
        }
      const words = { width: cellPx, height: wordsPx, data: new Uint8Array(cellPx * wordsPx) };
      drawWords(entries[row * columns + column].title, words, 5);
      const from = (top + heightPx) * sheet.widthPx + gapPx + column * (cellPx + gapPx);
      words.data.forEach((inked, i) => {
        if (inked) sheet.data[from + Math.floor(i / cellPx) * sheet.widthPx + (i % cellPx)] = 60;
      });
    }
    top += rowHeights[row] + wordsPx + gapPx;
  }
  return sheet;
};

export interface SheetEntry {
  title: string;
  /** File beside the page that is shown. */
  file: string;
  /** A second one, where the album had the original: the restored picture. */
  restored: string | null;
  dots: string | null;
  words: string;
}

const escapeText = (text: string): string =>
  text.replace(/&/g, '&amp;').replace(/</g, '&lt;').replace(/>/g, '&gt;').replace(/"/g, '&quot;');

/** The contact sheet as a page that needs no network. */
export const sheetPage = (entries: readonly SheetEntry[], notes: readonly string[]): string => `<!doctype html>
<html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>Gathered strips</title>
<style>
:root{color-scheme:light dark;--ground:#f4f1ea;--ink:#26231f;--faint:#6d675e}
@media (prefers-color-scheme:dark){:root{--ground:#1d1b19;--ink:#ece7dd;--faint:#a39c90}}
body{margin:20px;background:var(--ground);color:var(--ink);font:15px/1.4 system-ui,sans-serif}
main{display:grid;grid-template-columns:repeat(auto-fill,minmax(210px,1fr));gap:18px}
figure{margin:0}figure div{display:flex;gap:6px;align-items:flex-start}
img{width:100%;min-width:0;flex:1;background:#fff;border-radius:2px}
figcaption{margin-top:4px;font-size:13px;color:var(--faint)}figcaption b{color:var(--ink)}
a{color:inherit}
@media (min-width:520px){figure.pair{grid-column:span 2}}
</style>
<h1>Gathered strips</h1>
<main>
${entries
  .map(
    ({ title, file, restored, dots, words }) =>
      `<figure${restored ? ' class="pair"' : ''}><div><img src="${escapeText(file)}" alt="${escapeText(title)}">${
        restored ? `<img src="${escapeText(restored)}" alt="${escapeText(title)}, restored from paper">` : ''
      }</div><figcaption><b>${escapeText(title)}</b> ${escapeText(words)}${dots ? ` · <a href="${escapeText(dots)}">dots</a>` : ''}</figcaption></figure>`,
  )
  .join('\n')}
</main>
${notes.length > 0 ? `<h2>Notes</h2><ul>${notes.map(note => `<li>${escapeText(note)}</li>`).join('')}</ul>` : ''}
</html>
`;
