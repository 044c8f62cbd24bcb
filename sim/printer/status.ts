/** What the printer's sensors and its firmware know; status bytes are made of nothing else. */
export interface Senses {
  paperOut: boolean;
  nearEnd: boolean;
  lidOpen: boolean;
  hot: boolean;
  /** Its own feed button is held. */
  feeding: boolean;
  /** Broken for good until power is cycled. */
  broken: boolean;
  cutterJammed: boolean;
}

export const isOffLine = (s: Senses): boolean =>
  s.paperOut || s.lidOpen || s.hot || s.feeding || s.broken || s.cutterJammed;

const bits = (fixed: number, set: [number, boolean][]) =>
  set.reduce((byte, [bit, on]) => (on ? byte | bit : byte), fixed);

/** The answer to `10 04 n`: bits 0 and 7 clear, 1 and 4 set, so that an idle printer says `12`. */
export const statusNow = (n: number, s: Senses): number => {
  switch (n) {
    case 1:
      return bits(0x12, [[0x08, isOffLine(s)]]);
    case 2:
      return bits(0x12, [
        [0x04, s.lidOpen],
        [0x08, s.feeding],
        [0x20, s.paperOut],
        [0x40, s.hot || s.broken || s.cutterJammed],
      ]);
    case 3:
      return bits(0x12, [
        [0x08, s.cutterJammed],
        [0x20, s.broken],
        [0x40, s.hot],
      ]);
    default:
      return bits(0x12, [
        [0x0c, s.nearEnd],
        [0x60, s.paperOut],
      ]);
  }
};

/** The four bytes of the automatic status; only the first has bit 4 set. */
export const automaticStatus = (s: Senses): [number, number, number, number] => [
  bits(0x10, [
    [0x08, isOffLine(s)],
    [0x20, s.lidOpen],
    [0x40, s.feeding],
  ]),
  bits(0, [
    [0x08, s.cutterJammed],
    [0x20, s.broken],
    [0x40, s.hot],
  ]),
  bits(0, [
    [0x03, s.nearEnd],
    [0x0c, s.paperOut],
  ]),
  0,
];
