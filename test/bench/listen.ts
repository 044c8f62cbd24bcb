import { createConsoleParser } from '../../src/console/read/stream.ts';
import { createView } from '../../src/console/view.ts';

const cpuMs = (): number => {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1000;
};

/** A console of pictures, kernel lines and noise, over and over; `lines` of it. */
const chunks = function* (lines: number): Generator<{ bytes: Uint8Array; lines: number }> {
  const mono = (i: number) => 1_000_000 + i * 700_000;
  const record = (i: number, event: string, fields: object) =>
    `${JSON.stringify({ level: 'info', time: 1_781_978_400_000 + i * 700, mono: mono(i), event, ...fields })}\r\n`;
  const group = (n: number): string[] => {
    const shot = n + 1;
    const i = n * 10;
    const kept = record(i + 3, 'kept', { shot, keepUs: 77_228 });
    return [
      record(i, 'press', { shot, settledUs: 11_199 }),
      record(i + 1, 'coil', { shot, pressToCoilUs: 11_199, stroke: 'first' }),
      record(i + 2, 'frame', { shot, sequence: i, pressToFrameUs: 113_107, digest: 'cde16717' }),
      // Now and then the kernel comes between.
      n % 50 === 0
        ? `${kept.slice(0, 60)}[${String(n).padStart(5)}.000001] usb 1-1: new high-speed USB device\r\n${kept.slice(60)}`
        : kept,
      record(i + 4, 'coil', { shot, pressToCoilUs: 220_335, stroke: 'second' }),
      record(i + 5, 'developed', { shot, developUs: 884_736, inkPercent: 71.4 }),
      record(i + 6, 'print-begun', { shot, pressToDotUs: 1_043_278 }),
      `[${String(n).padStart(5)}.000002] mmc0: something of no weight\r\n`,
      n % 100 === 0 ? '\xff\x00garbage\r\n' : '[  OK  ] Started something.\r\n',
      record(i + 7, 'printed', { shot, printUs: 2_857_488, paperLeftMm: 18_973, picturesLeft: 231 }),
    ];
  };
  const groupsAtOnce = 200;
  for (let n = 0; n * 10 < lines; n += groupsAtOnce) {
    const text = Array.from({ length: groupsAtOnce }, (_, k) => group(n + k).join('')).join('');
    yield { bytes: Buffer.from(text, 'latin1'), lines: groupsAtOnce * 10 };
  }
};

/** Reading a console against splitting and parsing its JSON alone, and what memory it takes from first to last. */
export const benchListen = (say: (line: string) => void, { lines = 10_000_000 } = {}): void => {
  const sample = [...chunks(200_000)].map(({ bytes }) => bytes);
  const bare = cpuMs();
  let parsed = 0;
  for (const bytes of sample)
    for (const line of Buffer.from(bytes).toString('latin1').split('\n')) {
      if (!line.startsWith('{') || !line.endsWith('}\r')) continue;
      JSON.parse(line);
      parsed++;
    }
  const bareMs = cpuMs() - bare;
  const from = cpuMs();
  const one = createConsoleParser();
  let own = 0;
  for (const bytes of sample) for (const heard of one.push(bytes)) if (heard.kind === 'own') own++;
  const readMs = cpuMs() - from;
  say(
    `listen: ${own} log lines of 200000 lines, ${(readMs / bareMs).toFixed(1)} × the time of JSON.parse alone on ${parsed} of them`,
  );

  const parser = createConsoleParser();
  const view = createView({ colour: false, level: 'info' });
  const begun = cpuMs();
  let shown = 0;
  let early = 0;
  let most = 0;
  let done = 0;
  for (const { bytes, lines: count } of chunks(lines)) {
    for (const heard of parser.push(bytes)) shown += view.take(heard).length;
    done += count;
    const rss = process.memoryUsage.rss();
    if (early === 0 && done >= lines / 10) early = rss;
    most = Math.max(most, rss);
  }
  const tookS = (cpuMs() - begun) / 1000;
  const mb = (bytes: number) => Math.round(bytes / 1e6);
  say(
    `listen: ${(done / 1e6).toFixed(1)} million lines (${Math.round(parser.bytes / 1e6)} MB) in ${tookS.toFixed(1)} s of CPU, ${shown} shown; memory after a tenth ${mb(early)} MB, at most ${mb(most)} MB: ratio ${(most / early).toFixed(2)}`,
  );
  const asConsole = (parser.bytes * 10) / 1_000_000;
  say(`listen: ${Math.round(asConsole / tookS)} × as fast as a console at 1,000,000 Bd could bring them`);
};
