import { createReader, type Given } from './inputs.ts';
import { type Result, type Sheet, shown, sources } from './sheet.ts';
import { consoleS } from './sums.ts';

/** What boot messages on a slow serial console cost. */
export const bootSheet = (given: Given): Sheet => {
  const read = createReader(given);
  const bytes = read.extra('bootBytes');
  const baud = read.extra('consoleBaud');
  const costS = consoleS(bytes, baud);
  const results: Result[] = [];
  const add = (name: string, value: number, unit: string, help: string, formula: string) =>
    results.push({ name, value, unit, help, formula, source: sources.serial });
  add('consoleS', costS, 's', 'the console holds the boot up for', 'bytes · 10/baud');
  add('fastConsoleS', consoleS(bytes, 1_000_000), 's', 'the same text at 1 000 000 Bd', 'bytes · 10/baud');
  add('savedS', costS - consoleS(bytes, 1_000_000), 's', 'saved by that', 'difference');
  const warnings =
    costS > 0.5
      ? [
          `${shown(costS)} s of the boot are spent on the console: set quiet, a lower loglevel, or a faster console= in the kernel’s command line`,
        ]
      : [];
  const notes = [
    'the kernel waits for a serial console, character by character; 0.9 s of messages is common practice, no source',
    'slipshutter reckon boot LOG takes the figures from a captured console, and shows where the time of that boot went',
  ];
  return { title: 'boot and console', inputs: read.used, results, warnings, notes, cautions: [] };
};
