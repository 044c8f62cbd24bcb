/** Height of a line of characters or column graphics, dot lines. */
export const bandRows = 24;
const cellDots = 12;

/** The print buffer: one line of characters or column graphics, side by side, until something prints it. */
export interface Band {
  readonly empty: boolean;
  /** Whether one more character fits. */
  readonly full: boolean;
  character(code: number): void;
  /** One column of `bytes` bytes, topmost bit first; 8-dot columns are three dots tall a bit. */
  columns(data: Uint8Array, bytesAColumn: 1 | 3, wide: 1 | 2): void;
  /** Its rows, and empties it. */
  flush(): Uint8Array[];
  clear(): void;
}

/** Nobody prints text with this camera: a character is a patch of its own, so that garbage on paper looks like it. */
const patch = (code: number, x: number, y: number): boolean =>
  ((Math.imul(code * 35 + y * 5 + x + 1, 0x9e3779b1) >>> 27) & 1) === 1;

export const createBand = (widthDots: number): Band => {
  const strideBytes = Math.ceil(widthDots / 8);
  const rows = new Uint8Array(strideBytes * bandRows);
  let column = 0;

  const ink = (x: number, y: number) => {
    if (x < widthDots) rows[y * strideBytes + (x >> 3)] |= 0x80 >> (x & 7);
  };
  return {
    get empty() {
      return column === 0;
    },
    get full() {
      return column + cellDots > widthDots;
    },
    character(code) {
      for (let y = 0; y < 21; y++)
        for (let x = 0; x < 10; x++) if (patch(code, x >> 1, Math.floor(y / 3))) ink(column + x, y);
      column += cellDots;
    },
    columns(data, bytesAColumn, wide) {
      const tall = bytesAColumn === 1 ? 3 : 1;
      for (let at = 0; at + bytesAColumn <= data.length && column < widthDots; at += bytesAColumn) {
        for (let bit = 0; bit < bytesAColumn * 8; bit++) {
          if (!((data[at + (bit >> 3)] << (bit & 7)) & 0x80)) continue;
          for (let dy = 0; dy < tall; dy++) for (let dx = 0; dx < wide; dx++) ink(column + dx, bit * tall + dy);
        }
        column += wide;
      }
    },
    flush() {
      const copy = rows.slice();
      rows.fill(0);
      column = 0;
      return Array.from({ length: bandRows }, (_, y) => copy.subarray(y * strideBytes, (y + 1) * strideBytes));
    },
    clear() {
      rows.fill(0);
      column = 0;
    },
  };
};
