/**
 * The control language of receipt printers, as trade manuals agree on it: one function a command, nothing else.
 * Arguments out of a command's range are bugs of the caller and throw a RangeError.
 */
const ESC = 0x1b;
const GS = 0x1d;
const DC2 = 0x12;
const DLE = 0x10;

const within = (name: string, value: number, from: number, to: number): number => {
  if (!Number.isInteger(value) || value < from || value > to)
    throw new RangeError(`${name} is ${value}, a whole number from ${from} to ${to} was expected`);
  return value;
};
const byte = (name: string, value: number): number => within(name, value, 0, 255);
const twoBytes = (name: string, value: number, from = 0): [number, number] => {
  within(name, value, from, 65_535);
  return [value & 0xff, value >> 8];
};
const withData = (head: readonly number[], data: Uint8Array, expected: number): Uint8Array => {
  if (data.length !== expected) throw new RangeError(`image data have ${data.length} bytes, not ${expected}`);
  const bytes = new Uint8Array(head.length + data.length);
  bytes.set(head);
  bytes.set(data, head.length);
  return bytes;
};

/** Clears the print buffer and all modes; not the receive buffer. */
export const initialise = (): Uint8Array => Uint8Array.of(ESC, 0x40);

/** Prints what is buffered and feeds `units` motion units (0…255), dot lines on simple mechanisms. */
export const feedUnits = (units: number): Uint8Array => Uint8Array.of(ESC, 0x4a, byte('units', units));

/** Prints what is buffered and feeds `lines` (0…255) of the line spacing. */
export const feedLines = (lines: number): Uint8Array => Uint8Array.of(ESC, 0x64, byte('lines', lines));

/** Feeds back; how far is up to the model (one manual: at most 1/6 inch), and some ignore it. */
export const reverseUnits = (units: number): Uint8Array => Uint8Array.of(ESC, 0x4b, byte('units', units));
export const reverseLines = (lines: number): Uint8Array => Uint8Array.of(ESC, 0x65, byte('lines', lines));
export const reverseDots = (dots: number): Uint8Array => Uint8Array.of(ESC, 0x6a, byte('dots', dots));

/** Line spacing in motion units (0…255); without argument the default of 1/6 inch. */
export const lineSpacing = (units?: number): Uint8Array =>
  units === undefined ? Uint8Array.of(ESC, 0x32) : Uint8Array.of(ESC, 0x33, byte('units', units));

/** Motion units of 1/x inch across and 1/y inch along (0…255; 0 is the default). */
export const motionUnits = (x: number, y: number): Uint8Array => Uint8Array.of(GS, 0x50, byte('x', x), byte('y', y));

/** The eight bytes before raster data: `widthBytes` bytes a row, `rows` rows, normal size. */
export const rasterHeader = (widthBytes: number, rows: number): Uint8Array =>
  Uint8Array.of(GS, 0x76, 0x30, 0, ...twoBytes('widthBytes', widthBytes, 1), ...twoBytes('rows', rows, 1));

/** Raster image: rows of `widthBytes` bytes, most significant bit leftmost, 1 is black. */
export const raster = (widthBytes: number, rows: number, data: Uint8Array): Uint8Array =>
  withData([...rasterHeader(widthBytes, rows)], data, widthBytes * rows);

/** Column image of 24 dots a column, both densities full: three bytes a column, topmost dot first. Needs a feed to be printed. */
export const columns24 = (columns: number, data: Uint8Array): Uint8Array =>
  withData([ESC, 0x2a, 33, ...twoBytes('columns', columns, 1)], data, 3 * columns);

/** Column image of 8 dots a column at full density across: one byte a column. */
export const columns8 = (columns: number, data: Uint8Array): Uint8Array =>
  withData([ESC, 0x2a, 1, ...twoBytes('columns', columns, 1)], data, columns);

/** Bytes of `storeGraphics` beside the data. */
export const storeGraphicsOverhead = 15;

/** Stores a picture of `widthDots` × `rows` in the print buffer, black on white, normal size. */
export const storeGraphics = (widthDots: number, rows: number, data: Uint8Array): Uint8Array => {
  const bytes = Math.ceil(within('widthDots', widthDots, 1, 65_535) / 8) * within('rows', rows, 1, 65_535);
  const length = twoBytes('length', bytes + 10);
  const shape = [...twoBytes('widthDots', widthDots, 1), ...twoBytes('rows', rows, 1)];
  return withData([GS, 0x28, 0x4c, ...length, 0x30, 0x70, 0x30, 1, 1, 0x31, ...shape], data, bytes);
};

/** Prints what `storeGraphics` stored. */
export const printGraphics = (): Uint8Array => Uint8Array.of(GS, 0x28, 0x4c, 2, 0, 0x30, 0x32);

/** What `statusNow` asks: 1 printer, 2 why it is off line, 3 errors, 4 paper. */
export type StatusAsk = 1 | 2 | 3 | 4;

/** Asks for one status byte, answered ahead of everything buffered. Never send it inside another command. */
export const statusNow = (ask: StatusAsk): Uint8Array => Uint8Array.of(DLE, 0x04, within('ask', ask, 1, 4));

/** Switches the automatic status on for the groups in `mask` (0 is off); four bytes come at once and at each change. */
export const automaticStatus = (mask: number): Uint8Array => Uint8Array.of(GS, 0x61, byte('mask', mask));

export interface HeatSetting {
  /** Dots heated at once: 8 to 2,048 in steps of 8. */
  dotsAtOnce: number;
  /** 30 to 2,550 in steps of 10. */
  heatingUs: number;
  /** 0 to 2,550 in steps of 10. */
  intervalUs: number;
}

/** Panel class: how a line is heated. */
export const heat = ({ dotsAtOnce, heatingUs, intervalUs }: HeatSetting): Uint8Array =>
  Uint8Array.of(
    ESC,
    0x37,
    byte('dotsAtOnce / 8 − 1', dotsAtOnce / 8 - 1),
    within('heatingUs / 10', heatingUs / 10, 3, 255),
    byte('intervalUs / 10', intervalUs / 10),
  );

/**
 * Panel class: density 50 to 205 % in steps of 5, break after a line 0 to 1,750 µs in steps of 250. Manuals disagree
 * which field is which: `swapped` exchanges them, with the coarser step that three bits leave for the density.
 */
export const density = (percent: number, breakUs: number, swapped = false): Uint8Array => {
  const fine = within('(percent − 50) / 5', (percent - 50) / 5, 0, 31);
  const pause = within('breakUs / 250', breakUs / 250, 0, 7);
  return Uint8Array.of(DC2, 0x23, swapped ? (pause << 2) | ((fine >> 2) << 5) : fine | (pause << 5));
};

/** Panel class: sleep after so many seconds at rest; 0 is never. */
export const sleepAfter = (seconds: number): Uint8Array => Uint8Array.of(ESC, 0x38, ...twoBytes('seconds', seconds));

/** Wakes a sleeping printer; the next byte may follow after 50 ms. */
export const wake = (): Uint8Array => Uint8Array.of(0xff);
export const wakeUs = 50_000;
