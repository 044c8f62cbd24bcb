import type { RecordingHeader } from './recorder.ts';

/** The newest lines of a recording in memory, to be kept when something goes wrong. */
export interface Ring {
  /** Takes the header first, then a line an input. */
  write(line: string): void;
  /** As a recording; where the first inputs were let go, its header says how many. */
  text(): string;
  readonly bytes: number;
}

/** @param longestBytes Of all lines but the header, as they stand in the file. */
export const createRing = (longestBytes = 4_000_000): Ring => {
  let header: string | null = null;
  let lines: string[] = [];
  let first = 0;
  let bytes = 0;
  let lost = 0;
  return {
    write(line) {
      if (header === null) {
        header = line;
        return;
      }
      lines.push(line);
      bytes += line.length;
      while (bytes > longestBytes && first < lines.length) {
        bytes -= lines[first].length;
        lines[first++] = '';
        lost++;
      }
      // Now and then, so that letting go costs the same for each line on average.
      if (first > 1024 && first * 2 > lines.length) {
        lines = lines.slice(first);
        first = 0;
      }
    },
    text() {
      const top =
        lost === 0 ? header : `${JSON.stringify({ ...(JSON.parse(header ?? '{}') as RecordingHeader), lost })}\n`;
      return `${top ?? ''}${lines.slice(first).join('')}`;
    },
    get bytes() {
      return bytes;
    },
  };
};
