import { noise } from '../print/desk.ts';
import { measureEvenness } from '../print/evenness.ts';
import { bytesOverPlain, holds, lines, measure, photo, wholeOverPlain } from '../print/table.ts';

/** The table of lines, and how even the darkness stays down a strip. */
export const benchPrint = (say: (line: string) => void, smoke: boolean): void => {
  const rows = smoke ? 120 : 560;
  const chosen = smoke ? lines.filter(({ baud, flow }) => baud % 115_200 === 0 && flow === 'none') : lines;
  say(`print: ${rows} rows over ${chosen.length} lines on the virtual printer`);
  say(
    'print: dots  baud     buffer flow     lost starved  must  bytes/plain  time/longer limit  time/least with buffer',
  );
  let held = 0;
  let alone = 0;
  for (const line of chosen) {
    const r = measure(line, rows);
    if (holds(r)) held++;
    if (r.printUs <= 1.02 * r.limitUs) alone++;
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
    `print: ${held} of ${chosen.length} lines lose nothing, stand still only where they must, and are within 1.02 of what is possible: ${held === chosen.length ? 'met' : 'not met'}`,
  );
  say(
    `print: ${alone} of them within 1.02 of the longer of head and wire alone; at the others both are about as slow, and the buffer is too small to make up for rows that take turns at it`,
  );
  const light = {
    'a photograph': photo(384, 560),
    'all black': noise(384, 560, 1),
    'four tenths white rows': noise(384, 560, y => (y % 100 < 60 ? 0.35 : 0)),
    'left half only': noise(384, 560, 0.35),
    'one row in ten': noise(384, 560, y => (y % 10 === 0 ? 0.1 : 0)),
  };
  const half = light['left half only'];
  for (let y = 0; y < 560; y++) half.data.fill(0, y * 48 + 24, (y + 1) * 48);
  const shares = Object.entries(light).map(([name, dots]) => `${name} ${bytesOverPlain(dots).toFixed(3)}`);
  say(`print: bytes on the wire over plain raster of 24 rows a command: ${shares.join(', ')}`);
  const whole = wholeOverPlain(light['a photograph']);
  say(
    `print: the photograph with its marks and code, as it comes out: ${whole.toFixed(4)} (wanted at most 1: ${whole <= 1 ? 'met' : 'not met'}); its body alone costs what heat settings cost; 64 rows a command: ${bytesOverPlain(light['a photograph'], 64).toFixed(4)}`,
  );
  const percent = (part: number) => `${(100 * part).toFixed(1)} %`;
  const ends = (blind: boolean) => {
    const { firstInk, lastInk, headC } = measureEvenness({ blind, rows: smoke ? 300 : 3000 });
    return { change: percent(Math.abs(lastInk / firstInk - 1)), headC: headC.toFixed(0) };
  };
  const [told, blind] = [ends(false), ends(true)];
  say(
    `print: ink from top to bottom of a dark strip changes by ${told.change} (head ${told.headC} °C), without heat compensation by ${blind.change} (head ${blind.headC} °C)`,
  );
};
