import { holds, lines, measure } from '../print/table.ts';

/** Bytes on the wire of pictures of some lightness, over those of plain raster commands; and the table of lines. */
export const benchPrint = (say: (line: string) => void, smoke: boolean): void => {
  const rows = smoke ? 120 : 560;
  const chosen = smoke ? lines.filter(({ baud, flow }) => baud % 115_200 === 0 && flow === 'none') : lines;
  say(`print: ${rows} rows over ${chosen.length} lines on the virtual printer`);
  say(
    'print: dots  baud     buffer flow     lost starved  must  bytes/plain  time/longer limit  time/least with buffer',
  );
  let held = 0;
  for (const line of chosen) {
    const r = measure(line, rows);
    if (holds(r)) held++;
    say(
      [
        `print: ${String(r.widthDots).padEnd(5)} ${String(r.baud).padEnd(8)} ${String(r.bufferBytes).padEnd(6)}`,
        `${r.flow.padEnd(8)} ${String(r.bytesLost).padEnd(4)} ${String(r.starved).padEnd(7)}  ${String(r.unavoidable).padEnd(4)}`,
        ` ${r.bytesOverPlain.toFixed(3).padEnd(11)}  ${(r.printUs / r.limitUs).toFixed(3).padEnd(17)}`,
        ` ${(r.printUs / r.leastUs).toFixed(3)}${holds(r) ? '' : '  <- does not hold'}`,
      ].join(' '),
    );
  }
  say(
    `print: ${held} of ${chosen.length} lines lose nothing, stand still only where they must, and are within 1.02 of what is possible`,
  );
};
