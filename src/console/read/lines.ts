/** Bytes to lines. A line is a string with one character a byte (latin1), so that nothing is lost before it is understood. */
export interface LineSplitter {
  /** Whole lines by now, without their line feeds. */
  push(chunk: Uint8Array): string[];
  /** What stands without a line feed at the end; '' when nothing does. */
  end(): string;
}

/** No console line is longer; what is comes apart here. */
const longestBytes = 65_536;

export const createLineSplitter = (): LineSplitter => {
  let rest = '';
  return {
    push(chunk) {
      const text = Buffer.from(chunk.buffer, chunk.byteOffset, chunk.byteLength).toString('latin1');
      const lines: string[] = [];
      let from = 0;
      for (let at = text.indexOf('\n'); at >= 0; at = text.indexOf('\n', from)) {
        lines.push(rest === '' ? text.slice(from, at) : rest + text.slice(from, at));
        rest = '';
        from = at + 1;
      }
      rest += text.slice(from);
      while (rest.length > longestBytes) {
        lines.push(rest.slice(0, longestBytes));
        rest = rest.slice(longestBytes);
      }
      return lines;
    },
    end() {
      const last = rest;
      rest = '';
      return last;
    },
  };
};
