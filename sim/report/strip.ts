import type { DrawnStrip } from '../paper/draw.ts';
import type { Paper } from '../paper/paper.ts';
import type { LogLine, ReportStrip } from './page.ts';

/** How much later than the first dot the log may speak of it. */
const toleranceUs = 500_000;

/** The drawn strip with a button for each picture; which picture is which the log says, by the time of its first dot. */
export const reportStrip = (paper: Paper, drawn: DrawnStrip, log: readonly LogLine[], src: string): ReportStrip => {
  const begun = log
    .filter(line => line.event === 'print-begun' && typeof line.shot === 'number')
    .map(line => ({ shot: line.shot as number, atUs: line.atUs ?? line.mono ?? 0 }));
  const pictures = paper.pictures().flatMap(printed => {
    const place = drawn.place(printed.from, printed.to);
    // The log says it about when the first dot comes; what follows a stop belongs to the same picture.
    const shot = begun.findLast(({ atUs }) => atUs <= Math.min(printed.endUs, printed.startUs + toleranceUs))?.shot;
    return place && shot !== undefined ? [{ shot, ...place, atUs: printed.startUs, untilUs: printed.endUs }] : [];
  });
  const note = drawn.omittedLines > 0 ? 'The beginning of the strip is left out: it is too long to show.' : undefined;
  return { src, widthPx: drawn.widthPx, heightPx: drawn.heightPx, pictures, note };
};
