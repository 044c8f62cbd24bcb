import type { DrawnStrip } from '../paper/draw.ts';
import type { Paper } from '../paper/paper.ts';
import type { LogLine, ReportStrip } from './page.ts';

/** How much later than the first dot the log may speak of it. */
const toleranceUs = 100_000;

/** The drawn strip with a button for each picture; which picture is which the log says, by the time of its first dot. */
export const reportStrip = (paper: Paper, drawn: DrawnStrip, log: readonly LogLine[], src: string): ReportStrip => {
  const begun = log
    .filter(line => line.event === 'print-begun' && typeof line.shot === 'number')
    .map(line => ({ shot: line.shot as number, atUs: line.atUs ?? line.mono ?? 0 }));
  let which = -1;
  const pictures = paper.pictures().flatMap(printed => {
    // The log says it about when the first dot comes. What follows until the next one, tail or rest after a stop, is its.
    const prints = new Map<number, { from: number; to: number }>();
    for (let line = printed.from; line < printed.to; line++) {
      const { dots, atUs } = paper.line(line);
      if (!dots) continue;
      while (which + 1 < begun.length && begun[which + 1].atUs <= atUs + toleranceUs) which++;
      if (which >= 0) prints.set(which, { from: prints.get(which)?.from ?? line, to: line + 1 });
    }
    return [...prints].flatMap(([print, { from, to }]) => {
      const place = drawn.place(from, to);
      const { shot } = begun[print];
      return place ? [{ shot, ...place, atUs: paper.line(from).atUs, untilUs: paper.line(to - 1).atUs }] : [];
    });
  });
  const note = drawn.omittedLines > 0 ? 'The beginning of the strip is left out: it is too long to show.' : undefined;
  return { src, widthPx: drawn.widthPx, heightPx: drawn.heightPx, pictures, note };
};
