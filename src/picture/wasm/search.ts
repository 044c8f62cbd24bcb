// The loops of src/picture/halftone/search.ts: see there for what they are for. Addresses are bytes, floats are 32 bits wide.

const reach: i32 = 6;
const side: i32 = 2 * reach + 1;
const pad: i32 = reach + 2;
/** Floats of a row in the eye's table: 13 and zeros, so that rows go by fours. */
const tableRow: usize = 16;

let width: i32 = 0;
let height: i32 = 0;
/** Cells from one row to the next, with the margin. */
let stride: i32 = 0;
let worth: f32 = 0;
let bits: usize = 0;
let wanted: usize = 0;
let patterns: usize = 0;
let seen: usize = 0;
let coverage: usize = 0;
let changes: usize = 0;
let correlation: usize = 0;
let line: usize = 0;
let smooth: usize = 0;
let blocksAcross: i32 = 0;
let blocksAll: i32 = 0;
/** Correlations at (0,0), (1,0), (1,1), (2,0), (2,1), (2,2). */
let c0: f32 = 0;
let c1: f32 = 0;
let c2: f32 = 0;
let c4: f32 = 0;
let c5: f32 = 0;
let c8: f32 = 0;

function at(dx: i32, dy: i32): f32 {
  return load<f32>(correlation + ((<usize>(dy + reach) * tableRow + <usize>(dx + reach)) << 2));
}

/** The tables of one paper and one eye: inked shares [512], their changes [9 · 512], the eye's correlation [13 · 16]. */
export function searchTables(coverageAt: usize, changesAt: usize, correlationAt: usize, least: f32): void {
  coverage = coverageAt;
  changes = changesAt;
  correlation = correlationAt;
  worth = least;
  c0 = at(0, 0);
  c1 = at(1, 0);
  c2 = at(1, 1);
  c4 = at(2, 0);
  c5 = at(2, 1);
  c8 = at(2, 2);
}

function bit(x: i32, y: i32): u32 {
  return x < 0 || y < 0 || x >= width || y >= height ? 0 : <u32>load<u8>(bits + <usize>(y * width + x));
}

/** Takes a picture on: dots [width · height] bytes, wanted ink as floats; `patterns`, `seen` have a margin of 8 cells. */
export function searchOpen(
  columns: i32,
  rows: i32,
  bitsAt: usize,
  wantedAt: usize,
  patternsAt: usize,
  seenAt: usize,
  lineAt: usize,
  smoothAt: usize,
): void {
  width = columns;
  height = rows;
  stride = columns + 2 * pad;
  bits = bitsAt;
  wanted = wantedAt;
  patterns = patternsAt;
  seen = seenAt;
  line = lineAt;
  smooth = smoothAt;
  blocksAcross = (columns + 7) >> 3;
  blocksAll = blocksAcross * ((rows + 7) >> 3);
  const cells = <usize>(stride * (rows + 2 * pad));
  memory.fill(patterns, 0, cells << 1);
  memory.fill(seen, 0, cells << 2);
  memory.fill(line, 0, (<usize>(columns + 4 * reach + 4)) << 2);
  searchTake(-1);
}

/** Reads the patterns of row `y` out of the dots, -1 and one below the last being those of the margin. */
export function searchTake(y: i32): void {
  const inside = y > 0 && y < height - 1;
  // The window slides: three columns of three bits.
  let window: u32 = 0;
  let to = patterns + ((<usize>((y + pad) * stride + pad - 1)) << 1);
  for (let x = 0; x <= width + 1; x++) {
    const column = inside && x < width ? columnAt(x, y) : columnNear(x, y);
    window = ((window << 1) & 0b110110110) | column;
    store<u16>(to, window);
    to += 2;
  }
}
function columnAt(x: i32, y: i32): u32 {
  const here = bits + <usize>(y * width + x);
  return (
    ((<u32>load<u8>(here - <usize>width)) << 6) | ((<u32>load<u8>(here)) << 3) | <u32>load<u8>(here + <usize>width)
  );
}
function columnNear(x: i32, y: i32): u32 {
  return (bit(x, y - 1) << 6) | (bit(x, y) << 3) | bit(x, y + 1);
}

/**
 * Adds what row `y` differs from its wanted ink to what is seen, for one of the eye's bells: separable, so rows go first.
 * `along` and `down` hold 13 weights.
 */
export function searchCount(y: i32, along: usize, down: usize): void {
  const from = (y + pad) * stride;
  const cells = patterns + ((<usize>(from + pad)) << 1);
  const row = wanted + ((<usize>(y * width)) << 2);
  for (let x: usize = 0; x < <usize>width; x++)
    store<f32>(
      line + ((x + 2 * reach) << 2),
      load<f32>(coverage + ((<usize>load<u16>(cells + (x << 1))) << 2)) - load<f32>(row + (x << 2)),
    );
  // Fours may run over the end: what lies there is nothing.
  const columns = (<usize>(width + 2 * reach)) << 2;
  for (let x: usize = 0; x < columns; x += 16) {
    let sum = f32x4.splat(0);
    for (let k: usize = 0; k < <usize>(side << 2); k += 4)
      sum = f32x4.add(sum, f32x4.mul(v128.load32_splat(along + k), v128.load(line + x + k)));
    v128.store(smooth + x, sum);
  }
  for (let k = 0; k < side; k++) {
    const to = seen + ((<usize>(from + (k - reach) * stride + pad - reach)) << 2);
    const weight = v128.load32_splat(down + ((<usize>k) << 2));
    for (let x: usize = 0; x < columns; x += 16)
      v128.store(to + x, f32x4.add(v128.load(to + x), f32x4.mul(weight, v128.load(smooth + x))));
  }
}

/** What turning the dot changes in the nine cells round it, row by row. */
let d0: f32 = 0;
let d1: f32 = 0;
let d2: f32 = 0;
let d3: f32 = 0;
let d4: f32 = 0;
let d5: f32 = 0;
let d6: f32 = 0;
let d7: f32 = 0;
let d8: f32 = 0;

function change(place: usize, cell: usize): f32 {
  return load<f32>(changes + (place << 11) + ((<usize>load<u16>(cell)) << 2));
}

/** First order part of what turning dot `i` costs; leaves the nine cells' changes in d0 … d8. */
function slope(i: i32): f32 {
  const rowCells = (<usize>stride) << 1;
  const cell = patterns + ((<usize>i) << 1);
  const above = cell - rowCells;
  const under = cell + rowCells;
  d0 = change(0, above - 2);
  d1 = change(1, above);
  d2 = change(2, above + 2);
  d3 = change(3, cell - 2);
  d4 = change(4, cell);
  d5 = change(5, cell + 2);
  d6 = change(6, under - 2);
  d7 = change(7, under);
  d8 = change(8, under + 2);
  const rowSeen = (<usize>stride) << 2;
  const here = seen + ((<usize>i) << 2);
  const over = here - rowSeen;
  const below = here + rowSeen;
  return (
    2 *
    (d0 * load<f32>(over - 4) +
      d1 * load<f32>(over) +
      d2 * load<f32>(over + 4) +
      (d3 * load<f32>(here - 4) + d4 * load<f32>(here) + d5 * load<f32>(here + 4)) +
      (d6 * load<f32>(below - 4) + d7 * load<f32>(below) + d8 * load<f32>(below + 4)))
  );
}

/** Second order part: the nine changes among themselves, pairs ordered by their distance. */
function bow(): f32 {
  const a = d0;
  const b = d1;
  const c = d2;
  const d = d3;
  const e = d4;
  const f = d5;
  const g = d6;
  const h = d7;
  const i = d8;
  return (
    c0 * (a * a + b * b + c * c + (d * d + e * e + f * f) + (g * g + h * h + i * i)) +
    2 *
      (c1 * (b * (a + c + e) + d * (a + e + g) + f * (c + e + i) + h * (e + g + i)) +
        c2 * (e * (a + c + g + i) + b * (d + f) + h * (d + f)) +
        c4 * (a * (c + g) + i * (c + g) + b * h + d * f) +
        c5 * (a * (f + h) + c * (d + h) + g * (b + f) + i * (b + d)) +
        c8 * (a * i + c * g))
  );
}

function crossOf(own: f32, k: usize, top: v128, middle: v128, low: v128): v128 {
  const from = correlation + (k << 2);
  return f32x4.mul(
    f32x4.splat(own),
    f32x4.add(
      f32x4.add(f32x4.mul(top, v128.load(from)), f32x4.mul(middle, v128.load(from + (tableRow << 2)))),
      f32x4.mul(low, v128.load(from + (tableRow << 3))),
    ),
  );
}
function three(a: f32, b: f32, c: f32): v128 {
  return f32x4.replace_lane(f32x4.replace_lane(f32x4.replace_lane(f32x4.splat(0), 0, a), 1, b), 2, c);
}

/** Looks at one dot: turns it, or exchanges it with the neighbour that gains most. Says whether anything was turned. */
function consider(x: i32, y: i32, i: i32): bool {
  const alone = slope(i);
  let best = worth;
  let partner = -1;
  let own = alone;
  if (alone < 0) {
    own += bow();
    if (own < best) {
      best = own;
      partner = i;
    }
  }
  // Black dots alone look for an exchange: the white partner would find the same one.
  if (isOn(i)) {
    const f0 = d0;
    const f1 = d1;
    const f2 = d2;
    const f3 = d3;
    const f4 = d4;
    const f5 = d5;
    const f6 = d6;
    const f7 = d7;
    const f8 = d8;
    if (alone >= 0) own += bow();
    flipPatterns(i);
    for (let n = 0; n < 9; n++) {
      if (n === 4) continue;
      const dx = (n % 3) - 1;
      const dy = n / 3 - 1;
      const j = i + dy * stride + dx;
      if (isOn(j) || x + dx < 1 || x + dx > width - 2 || y + dy < 1 || y + dy > height - 2) continue;
      const second = slope(j);
      // The second order part of both together is never negative.
      if (alone + second >= best) continue;
      const top = three(d0, d1, d2);
      const middle = three(d3, d4, d5);
      const low = three(d6, d7, d8);
      const k = <usize>((dy + reach) * 16 + dx + reach);
      const sum = f32x4.add(
        f32x4.add(
          f32x4.add(crossOf(f0, k, top, middle, low), crossOf(f1, k - 1, top, middle, low)),
          f32x4.add(crossOf(f2, k - 2, top, middle, low), crossOf(f3, k - 16, top, middle, low)),
        ),
        f32x4.add(
          f32x4.add(
            f32x4.add(crossOf(f4, k - 17, top, middle, low), crossOf(f5, k - 18, top, middle, low)),
            f32x4.add(crossOf(f6, k - 32, top, middle, low), crossOf(f7, k - 33, top, middle, low)),
          ),
          crossOf(f8, k - 34, top, middle, low),
        ),
      );
      const cross = f32x4.extract_lane(sum, 0) + f32x4.extract_lane(sum, 1) + f32x4.extract_lane(sum, 2);
      const both = own + second + bow() + 2 * cross;
      if (both < best) {
        best = both;
        partner = j;
      }
    }
    flipPatterns(i);
  }
  if (partner < 0) return false;
  turn(i);
  if (partner !== i) turn(partner);
  return true;
}

function isOn(i: i32): bool {
  return (<u32>load<u16>(patterns + ((<usize>i) << 1)) & 16) !== 0;
}

function toggle(cell: usize, mask: u32): void {
  store<u16>(cell, <u32>load<u16>(cell) ^ mask);
}

/** Turns the dot in the nine patterns that contain it. */
function flipPatterns(i: i32): void {
  const rowCells = (<usize>stride) << 1;
  const cell = patterns + ((<usize>i) << 1);
  toggle(cell - rowCells - 2, 1);
  toggle(cell - rowCells, 2);
  toggle(cell - rowCells + 2, 4);
  toggle(cell - 2, 8);
  toggle(cell, 16);
  toggle(cell + 2, 32);
  toggle(cell + rowCells - 2, 64);
  toggle(cell + rowCells, 128);
  toggle(cell + rowCells + 2, 256);
}

/** Adds a cell's change to what is seen around it. */
function spread(cell: i32, amount: f32): void {
  if (amount === 0) return;
  const by = f32x4.splat(amount);
  let to = seen + ((<usize>(cell - reach * stride - reach)) << 2);
  let from = correlation;
  for (let row = 0; row < side; row++) {
    v128.store(to, f32x4.add(v128.load(to), f32x4.mul(by, v128.load(from))));
    v128.store(to, f32x4.add(v128.load(to, 16), f32x4.mul(by, v128.load(from, 16))), 16);
    v128.store(to, f32x4.add(v128.load(to, 32), f32x4.mul(by, v128.load(from, 32))), 32);
    store<f32>(to, load<f32>(to, 48) + amount * load<f32>(from, 48), 48);
    to += (<usize>stride) << 2;
    from += tableRow << 2;
  }
}

function turn(i: i32): void {
  slope(i);
  spread(i - stride - 1, d0);
  spread(i - stride, d1);
  spread(i - stride + 1, d2);
  spread(i - 1, d3);
  spread(i, d4);
  spread(i + 1, d5);
  spread(i + stride - 1, d6);
  spread(i + stride, d7);
  spread(i + stride + 1, d8);
  flipPatterns(i);
}

/** Marks the blocks round (x, y) as changed. */
function stir(blocks: usize, x: i32, y: i32): void {
  const bx = x >> 3;
  const by = y >> 3;
  for (let v = max(0, by - 1); v <= by + 1; v++)
    for (let u = max(0, bx - 1); u <= min(blocksAcross - 1, bx + 1); u++) {
      const block = v * blocksAcross + u;
      if (block < blocksAll) store<u8>(blocks + <usize>block, 1);
    }
}

/** Looks at the dots of rows `from` … `to` in blocks that were stirred `before`; marks blocks in `after`. */
export function searchRows(from: i32, to: i32, before: usize, after: usize): void {
  for (let y = from; y < to; y++) {
    const blockRow = before + <usize>((y >> 3) * blocksAcross);
    for (let x = 1; x < width - 1; x++) {
      if (load<u8>(blockRow + <usize>(x >> 3)) === 0) {
        x |= 7;
        continue;
      }
      if (consider(x, y, (y + pad) * stride + x + pad)) stir(after, x, y);
    }
  }
}

/** Writes the dots of rows `from` … `to` back. */
export function searchStore(from: i32, to: i32): void {
  for (let y = from; y < to; y++) {
    const row = (y + pad) * stride + pad;
    for (let x = 0; x < width; x++) store<u8>(bits + <usize>(y * width + x), isOn(row + x) ? 1 : 0);
  }
}
