import type { Boot, BootPhase } from './boot.ts';

export interface BootReportOptions {
  /** Speed of the console, where the kernel's command line doesn't say it; null: the usual one is assumed. */
  baud: number | null;
  colour: boolean;
}

const usualBaud = 115_200;
/** Speeds that serial ports commonly know, for comparison. */
const otherBauds = [115_200, 460_800, 921_600, 1_000_000, 1_500_000];

/** Time that bytes take on a serial line, s: 8N1 is ten bits a byte. */
export const wireS = (bytes: number, baud: number): number => (bytes * 10) / baud;

const meanings: Record<BootPhase['name'], string> = {
  kernel: 'until the first process runs',
  'first process': 'services, until ours is started',
  node: 'until our program says so',
  'warm-up': 'parts opened, webcam streaming',
  'the rest': 'album, and what else has to be there',
};

const barWidth = 48;
const shorten = (text: string, longest = 60): string =>
  text.length > longest ? `${text.slice(0, longest - 1)}…` : text;
const seconds = (s: number): string => `${s.toFixed(3)} s`;

/** Where a boot's time went, and what the console cost of it; text with line feeds. */
export const bootReport = (boot: Boot, { baud: given, colour }: BootReportOptions): string => {
  const { phases, gaps, bytes, readyS, lastS, firstS } = boot;
  const faint = (text: string) => (colour ? `\x1b[2m${text}\x1b[0m` : text);
  const strong = (text: string) => (colour ? `\x1b[1m${text}\x1b[0m` : text);
  const baud = given ?? boot.baud ?? usualBaud;
  const baudFrom = given !== null ? 'as given' : boot.baud ? 'by the kernel’s command line' : 'assumed: see --baud';
  const out: string[] = [];

  out.push(
    readyS === null
      ? strong(`A boot that was never ready; it is followed up to ${seconds(lastS)}.`)
      : strong(`Ready ${seconds(readyS)} after the boot began.`),
  );
  if (firstS > 0.5) out.push(faint(`The console says nothing of the first ${seconds(firstS)}.`));
  out.push('');

  const columnS = Math.max(lastS, 1e-3) / barWidth;
  for (const { name, fromS, toS } of phases) {
    const from = Math.min(barWidth - 1, Math.floor(fromS / columnS));
    const to = Math.min(barWidth, Math.max(from + 1, Math.round(toS / columnS)));
    const bar = `${faint('·'.repeat(from))}${'▆'.repeat(to - from)}${faint('·'.repeat(barWidth - to))}`;
    out.push(
      `  ${name.padEnd(13)} ${bar} ${seconds(toS - fromS).padStart(9)}  ${faint(readyS === null && name === 'the rest' ? 'until the last line' : meanings[name])}`,
    );
  }

  if (gaps.length > 0) {
    out.push('', 'Longest silences:');
    for (const { fromS, toS, before, after } of gaps.slice(0, 3)) {
      out.push(
        `  ${seconds(toS - fromS).padStart(9)}  ${faint(`${fromS.toFixed(3)}`.padStart(9))}  ${shorten(before)}`,
      );
      out.push(`  ${' '.repeat(9)}  ${faint(`${toS.toFixed(3)}`.padStart(9))}  ${shorten(after)}`);
    }
  }

  const total = bytes.kernel + bytes.manager + bytes.own + bytes.other;
  const count = (n: number) => n.toLocaleString('en');
  const costS = wireS(total, baud);
  out.push(
    '',
    `The console carried ${count(total)} bytes by then: ${count(bytes.kernel)} of the kernel, ${count(bytes.manager)} of the service manager, ${count(bytes.own)} of ours, ${count(bytes.other)} of others.`,
    `At ${count(baud)} Bd (${baudFrom}) they take ${seconds(costS)} of the line; the kernel waits for its own, ${seconds(wireS(bytes.kernel, baud))}.`,
  );
  const faster = otherBauds.filter(other => other > baud && wireS(total, baud) - wireS(total, other) >= 0.001);
  for (const other of faster)
    out.push(
      `  at ${count(other).padStart(9)} Bd   ${seconds(wireS(total, other))}, ${seconds(costS - wireS(total, other))} less`,
    );
  if (boot.quiet) out.push(`  'quiet' is set already.`);
  else if (bytes.kernel > 0)
    out.push(`  with 'quiet'      up to ${seconds(wireS(bytes.kernel, baud))} less: only the kernel’s errors are left`);
  return `${out.join('\n')}\n`;
};
