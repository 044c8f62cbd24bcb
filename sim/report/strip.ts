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
  /** The log says it about when the first dot comes; what follows, a tail or the rest after a stop, belongs to it. */
  const begunBefore = (atUs: number) => begun.findLastIndex(said => said.atUs <= atUs + toleranceUs);
  const pictures = paper.pictures().flatMap(printed => {
    const prints = new Map<number, { from: number; to: number }>();
    for (const { from, to } of printed.parts) {
      const which = begunBefore(paper.line(from).atUs);
      if (which >= 0) prints.set(which, { from: prints.get(which)?.from ?? from, to });
    }
    return [...prints].flatMap(([which, { from, to }]) => {
      const place = drawn.place(from, to);
      const { shot } = begun[which];
      return place ? [{ shot, ...place, atUs: paper.line(from).atUs, untilUs: paper.line(to - 1).atUs }] : [];
    });
  });
  const note = drawn.omittedLines > 0 ? 'The beginning of the strip is left out: it is too long to show.' : undefined;
  return { src, widthPx: drawn.widthPx, heightPx: drawn.heightPx, pictures, note };
};
