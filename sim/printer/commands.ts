export const ESC = 0x1b;
export const GS = 0x1d;
export const DC2 = 0x12;
const DLE = 0x10;
const FS = 0x1c;

/**
 * How many bytes follow the two of each command, as trade manuals give them. Commands that this printer doesn't act on
 * are swallowed whole (their lengths from memory), so that their arguments aren't taken for characters.
 */
export const argumentsAfter: ReadonlyMap<number, ReadonlyMap<number, number>> = new Map([
  [
    ESC,
    new Map([
      [0x40, 0], // initialise
      [0x4a, 1], // print and feed units
      [0x64, 1], // print and feed lines
      [0x4b, 1], // reverse units
      [0x65, 1], // reverse lines
      [0x6a, 1], // reverse dots
      [0x32, 0], // default spacing
      [0x33, 1], // spacing
      [0x2a, 3], // column image
      [0x37, 3], // heat
      [0x38, 2], // sleep
      ...[0x20, 0x21, 0x2d, 0x3d, 0x42, 0x45, 0x47, 0x4d, 0x52, 0x56, 0x61, 0x74, 0x7b].map(code => [code, 1] as const),
      ...[0x24, 0x5c, 0x63].map(code => [code, 2] as const),
      [0x70, 3],
    ]),
  ],
  [
    GS,
    new Map([
      [0x50, 2], // motion units
      [0x76, 6], // raster image
      [0x28, 3], // the family with a length
      [0x56, 1], // cut; two of its forms have one byte more
      [0x61, 1], // automatic status
      ...[0x21, 0x42, 0x48, 0x49, 0x66, 0x68, 0x72, 0x77].map(code => [code, 1] as const),
      ...[0x4c, 0x57].map(code => [code, 2] as const),
    ]),
  ],
  [
    FS,
    new Map([
      [0x26, 0], // kanji mode on and off
      [0x2e, 0],
    ]),
  ],
  [
    DC2,
    new Map([
      [0x23, 1], // density
      [0x54, 0],
    ]),
  ],
  [
    DLE,
    new Map([
      [0x04, 1], // status now: answered by the receive path, nothing here
      [0x05, 1],
    ]),
  ],
]);
