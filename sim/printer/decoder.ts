import { bandRows, createBand } from './band.ts';
import { argumentsAfter, DC2, ESC, GS } from './commands.ts';

/** What the control language asks of the mechanism. Feeds are in dot lines. */
export interface Orders {
  /** Rows of dots to be printed under each other, each `times`; `inner`: the first continues an image begun before. */
  rows(rows: readonly Uint8Array[], times: number, inner: boolean): void;
  /** Paper travel without heat; negative is back. */
  feed(dotLines: number): void;
  cut(full: boolean): void;
  initialise(): void;
  heat(dotsAtOnce: number, heatingUs: number, intervalUs: number): void;
  /** The argument as it came: printers disagree on its fields. */
  density(argument: number): void;
  automaticStatus(mask: number): void;
  sleep(afterS: number): void;
}

/** For one who only wants to follow the commands. */
export const idleOrders: Orders = {
  rows() {},
  feed() {},
  cut() {},
  initialise() {},
  heat() {},
  density() {},
  automaticStatus() {},
  sleep() {},
};

export interface DecoderCounts {
  commands: number;
  /** Bytes that belong to no known command. */
  unknown: number;
  /** Bytes taken for characters: what image bytes become once some are lost. */
  characters: number;
}

export interface Decoder {
  /** Takes bytes up to the first that gives the mechanism work; returns the index after the last one taken. */
  take(bytes: Uint8Array, from: number, to: number): number;
  /** How many bytes may come before anything can happen; at least 1. */
  wants(): number;
  /** As after power-up. */
  reset(): void;
  /** Whether it stands between commands with nothing in the print buffer. */
  readonly between: boolean;
  readonly counts: Readonly<DecoderCounts>;
}

const defaultSpacingDots = 30;

/** The first bytes of `source` with every dot twice as wide. */
const widen = (source: Uint8Array, target: Uint8Array): void => {
  for (let i = 0; i < target.length; i++) {
    const byte = source[i >> 1] ?? 0;
    const nibble = i & 1 ? byte & 15 : byte >> 4;
    let wide = 0;
    for (let bit = 0; bit < 4; bit++) if (nibble & (1 << bit)) wide |= 3 << (2 * bit);
    target[i] = wide;
  }
};

/**
 * Reads the control language of receipt printers, knowing nothing of who wrote it. Any bytes at all are survived in
 * bounded memory; what makes no sense is printed as characters, as a printer does.
 */
export const createDecoder = (widthDots: number, dotsPerMm: number, orders: Orders): Decoder => {
  const strideBytes = Math.ceil(widthDots / 8);
  const row = new Uint8Array(strideBytes);
  const wideRow = new Uint8Array(strideBytes);
  const band = createBand(widthDots);
  /** Bytes of the command in hand, or of the header inside a command with a length. */
  const head = new Uint8Array(16);
  const counts: DecoderCounts = { commands: 0, unknown: 0, characters: 0 };
  const store = { data: new Uint8Array(0), bytesARow: 0, heightDots: 0, wide: false, tall: 1 };

  let state: 'plain' | 'command' | 'raster' | 'columns' | 'family' | 'graphics' | 'skip' = 'plain';
  let have = 0;
  let need = 0;
  /** Bytes of data still to come. */
  let left = 0;
  let rowBytes = 0;
  let inRow = 0;
  let inner = false;
  let magnify = 0;
  /** Data that is acted on only when it is whole: a column image, stored graphics. */
  let data = new Uint8Array(0);
  let filled = 0;
  let spacing = defaultSpacingDots;
  let unitDots = 1;
  let acted = false;

  const forget = () => {
    band.clear();
    spacing = defaultSpacingDots;
    unitDots = 1;
    store.data = new Uint8Array(0);
  };
  const unknown = (bytes: number) => {
    counts.unknown += bytes;
    state = 'plain';
  };
  const print = (rows: readonly Uint8Array[], times: number, continues: boolean) => {
    if (rows.length === 0) return;
    orders.rows(rows, times, continues);
    acted = true;
  };
  const feed = (dotLines: number) => {
    if (dotLines === 0) return;
    orders.feed(dotLines);
    acted = true;
  };
  /** Prints what the print buffer holds; the paper moves by `dotLines` in all. */
  const printAndFeed = (dotLines: number) => {
    if (band.empty) return feed(dotLines);
    print(band.flush(), 1, false);
    feed(Math.max(0, dotLines - bandRows));
  };
  const character = (code: number) => {
    counts.characters++;
    if (band.full) printAndFeed(spacing);
    band.character(code);
  };

  const beginRaster = () => {
    const [, , , mode, xL, xH, yL, yH] = head;
    rowBytes = xL | (xH << 8);
    left = rowBytes * (yL | (yH << 8));
    magnify = mode & 3;
    if ((mode & 0xcf) > 3) return unknown(8);
    // Only with an empty print buffer: otherwise its data are taken for characters.
    if (left === 0 || !band.empty) return;
    state = 'raster';
    inRow = 0;
    inner = false;
    row.fill(0);
  };
  const endRow = () => {
    if (magnify & 1) widen(row, wideRow);
    print([magnify & 1 ? wideRow : row], magnify & 2 ? 2 : 1, inner);
    inner = true;
    inRow = 0;
  };

  const collect = (bytes: number, next: 'columns' | 'graphics') => {
    left = bytes;
    if (left === 0) return;
    data = new Uint8Array(left);
    filled = 0;
    state = next;
  };
  const beginColumns = () => {
    const [, , mode, nL, nH] = head;
    if (![0, 1, 32, 33].includes(mode)) return unknown(5);
    collect((nL | (nH << 8)) * (mode >= 32 ? 3 : 1), 'columns');
  };
  const printStored = () => {
    const rows: Uint8Array[] = [];
    for (let y = 0; y < store.heightDots && store.data.length > 0; y++) {
      const line = new Uint8Array(strideBytes);
      const source = store.data.subarray(y * store.bytesARow, (y + 1) * store.bytesARow);
      if (store.wide) widen(source, line);
      else line.set(source.subarray(0, strideBytes));
      rows.push(line);
    }
    store.data = new Uint8Array(0);
    print(rows, store.tall, false);
  };
  const beginFamily = () => {
    left = head[3] | (head[4] << 8);
    if (left > 0) state = head[2] === 0x4c ? 'family' : 'skip';
    have = 0;
  };
  /** Inside `1D 28 4C pL pH`: `30 32` prints what is stored, `30 70 30 bx by 31 xL xH yL yH` stores. */
  const inFamily = (byte: number) => {
    head[have++] = byte;
    left--;
    if (have === 2 && byte === 0x32 && left === 0) {
      state = 'plain';
      printStored();
    } else if (have === 2 && byte !== 0x70) state = 'skip';
    else if (have === 10) {
      const [, , , bx, by, , xL, xH, yL, yH] = head;
      store.bytesARow = Math.ceil((xL | (xH << 8)) / 8);
      store.wide = bx === 2;
      store.tall = by === 2 ? 2 : 1;
      // No more rows than the data are said to have: the height alone may be anything.
      store.heightDots = store.bytesARow === 0 ? 0 : Math.min(yL | (yH << 8), Math.floor(left / store.bytesARow));
      collect(left, 'graphics');
    }
    if (left === 0) state = 'plain';
  };

  const finish = () => {
    state = 'plain';
    counts.commands++;
    const [lead, code, a, b, c] = head;
    if (lead === ESC) {
      if (code === 0x40) {
        forget();
        orders.initialise();
      } else if (code === 0x4a) printAndFeed(Math.round(a * unitDots));
      else if (code === 0x64) printAndFeed(a * spacing);
      else if (code === 0x4b) feed(-Math.round(a * unitDots));
      else if (code === 0x65) feed(-a * spacing);
      else if (code === 0x6a) feed(-a);
      else if (code === 0x32) spacing = defaultSpacingDots;
      else if (code === 0x33) spacing = Math.round(a * unitDots);
      else if (code === 0x2a) beginColumns();
      else if (code === 0x37) orders.heat(8 * (a + 1), b * 10, c * 10);
      else if (code === 0x38) orders.sleep(a | (b << 8));
    } else if (lead === GS) {
      if (code === 0x50) unitDots = b === 0 ? 1 : (dotsPerMm * 25.4) / b;
      else if (code === 0x76) beginRaster();
      else if (code === 0x28) beginFamily();
      else if (code === 0x61) orders.automaticStatus(a);
      else if (code === 0x56) {
        if (a === 65 || a === 66) feed(Math.round(b * unitDots));
        orders.cut(a === 0 || a === 48 || a === 65);
        acted = true;
      }
    } else if (lead === DC2 && code === 0x23) orders.density(a);
  };

  const inCommand = (byte: number) => {
    head[have++] = byte;
    if (have === 2) {
      const after = argumentsAfter.get(head[0])?.get(byte);
      if (after === undefined) return unknown(2);
      need = 2 + after;
    } else if (have === 3 && head[0] === GS) {
      if (head[1] === 0x56 && (byte === 65 || byte === 66)) need = 4;
      if (head[1] === 0x76 && byte !== 0x30) return unknown(3);
    }
    if (have === need) finish();
  };
  const plain = (byte: number) => {
    if (argumentsAfter.has(byte)) {
      head[0] = byte;
      have = 1;
      state = 'command';
    } else if (byte === 0x0a) printAndFeed(spacing);
    else if (byte >= 0x20 && byte !== 0x7f && byte !== 0xff) character(byte);
    else if (byte !== 0x00 && byte !== 0x0d && byte !== 0xff) counts.unknown++;
  };

  /** Bytes of data by the stretch, for they are nearly all there is. */
  const stretch = (bytes: Uint8Array, from: number, to: number): number => {
    if (state === 'raster') {
      const count = Math.min(rowBytes - inRow, to - from);
      const kept = Math.min(count, strideBytes - inRow);
      if (inRow === 0) row.fill(0);
      for (let i = 0; i < kept; i++) row[inRow + i] = bytes[from + i];
      inRow += count;
      left -= count;
      if (left === 0) state = 'plain';
      if (inRow === rowBytes) endRow();
      return from + count;
    }
    const count = Math.min(left, to - from);
    left -= count;
    if (state !== 'skip') {
      data.set(bytes.subarray(from, from + count), filled);
      filled += count;
      if (left === 0 && state === 'graphics') store.data = data;
      if (left === 0 && state === 'columns') {
        band.columns(data, head[2] >= 32 ? 3 : 1, head[2] & 1 ? 1 : 2);
        data = new Uint8Array(0);
      }
    }
    if (left === 0) state = 'plain';
    return from + count;
  };

  return {
    take(bytes, from, to) {
      acted = false;
      let at = from;
      while (at < to && !acted) {
        if (state === 'plain') plain(bytes[at++]);
        else if (state === 'command') inCommand(bytes[at++]);
        else if (state === 'family') inFamily(bytes[at++]);
        else at = stretch(bytes, at, to);
      }
      return at;
    },
    wants: () =>
      state === 'raster' ? rowBytes - inRow : state === 'plain' || state === 'command' ? 1 : Math.max(1, left),
    reset() {
      state = 'plain';
      forget();
      data = new Uint8Array(0);
    },
    get between() {
      return state === 'plain' && band.empty;
    },
    counts,
  };
};
