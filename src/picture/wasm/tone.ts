// Tone, in place on gamma-coded floats 0…255.

/** Counts codes by their whole part into 256 words. */
export function countCodes(codes: usize, count: i32, counts: usize): void {
  memory.fill(counts, 0, 1024);
  for (const end = codes + ((<usize>count) << 2); codes < end; codes += 4) {
    const at = counts + ((<usize>(<i32>load<f32>(codes))) << 2);
    store<u32>(at, load<u32>(at) + 1);
  }
}

/** Counts a tile's codes into 64 words. */
export function countTile(codes: usize, columns: i32, rows: i32, stride: i32, counts: usize): void {
  memory.fill(counts, 0, 256);
  for (let y = 0; y < rows; y++) {
    const row = codes + ((<usize>(y * stride)) << 2);
    for (let x: usize = 0; x < <usize>columns; x++) {
      const at = counts + ((<usize>((<i32>load<f32>(row + (x << 2))) >> 2)) << 2);
      store<u32>(at, load<u32>(at) + 1);
    }
  }
}

/** Through a table of 257, straight between its values. */
export function applyCurve(codes: usize, count: i32, table: usize): void {
  for (const end = codes + ((<usize>count) << 2); codes < end; codes += 4) {
    const code = load<f32>(codes);
    const whole = <i32>code;
    const at = table + ((<usize>whole) << 2);
    const from = load<f32>(at);
    store<f32>(codes, from + (load<f32>(at, 4) - from) * (code - <f32>whole));
  }
}

/** What a table says to each code, nearest of `fine` steps a code. */
export function lookUp(codes: usize, count: i32, table: usize, fine: f32, to: usize): void {
  for (const end = codes + ((<usize>count) << 2); codes < end; codes += 4) {
    const at = <i32>(load<f32>(codes) * fine + <f32>0.5);
    store<f32>(to, load<f32>(table + ((<usize>at) << 2)));
    to += 4;
  }
}

/**
 * One row of codes blended with what the maps of four neighbouring tiles make of them: `left` and `right` hold byte
 * offsets of the maps of each column, `share` how near the right one is; `down` how near the lower ones are.
 */
export function blendRow(
  codes: usize,
  columns: i32,
  above: usize,
  below: usize,
  left: usize,
  right: usize,
  share: usize,
  down: f32,
  strength: f32,
): void {
  for (let x: usize = 0, end = (<usize>columns) << 2; x < end; x += 4) {
    const code = load<f32>(codes + x);
    const place = (<usize>(<i32>code)) << 2;
    const l = <usize>load<u32>(left + x) + place;
    const r = <usize>load<u32>(right + x) + place;
    const across = load<f32>(share + x);
    const a = load<f32>(above + l);
    const c = load<f32>(below + l);
    const top = a + (load<f32>(above + r) - a) * across;
    const low = c + (load<f32>(below + r) - c) * across;
    const value = code + strength * (top + (low - top) * down - code);
    store<f32>(codes + x, max<f32>(0, min<f32>(255, value)));
  }
}

/** Unsharp masking with a 3 × 3 binomial mask, the picture's edges repeated. `work` is as large as the picture, and a four more. */
export function sharpenCodes(codes: usize, columns: i32, rows: i32, amount: f32, work: usize): void {
  const rowBytes = (<usize>columns) << 2;
  const last = rowBytes - 4;
  const four = rowBytes & ~15;
  const two = f32x4.splat(2);
  for (let y = 0; y < rows; y++) {
    const row = codes + <usize>y * rowBytes;
    const to = work + <usize>y * rowBytes;
    let x: usize = 4;
    for (; x + 16 < rowBytes; x += 16)
      v128.store(
        to + x,
        f32x4.add(f32x4.add(v128.load(row + x - 4), v128.load(row + x + 4)), f32x4.mul(two, v128.load(row + x))),
      );
    for (; x < last; x += 4)
      store<f32>(to + x, load<f32>(row + x - 4) + 2 * load<f32>(row + x) + load<f32>(row + x + 4));
    store<f32>(to, 3 * load<f32>(row) + load<f32>(row + min<usize>(4, last)));
    if (last > 0) store<f32>(to + last, 3 * load<f32>(row + last) + load<f32>(row + last - 4));
  }
  const share = f32x4.splat(<f32>0.0625);
  const by = f32x4.splat(amount);
  const none = f32x4.splat(0);
  const all = f32x4.splat(255);
  for (let y = 0; y < rows; y++) {
    const row = codes + <usize>y * rowBytes;
    const here = work + <usize>y * rowBytes;
    const up = y > 0 ? here - rowBytes : here;
    const under = y + 1 < rows ? here + rowBytes : here;
    let x: usize = 0;
    for (; x < four; x += 16) {
      const soft = f32x4.mul(
        share,
        f32x4.add(f32x4.add(v128.load(up + x), v128.load(under + x)), f32x4.mul(two, v128.load(here + x))),
      );
      const code = v128.load(row + x);
      const value = f32x4.add(code, f32x4.mul(by, f32x4.sub(code, soft)));
      v128.store(row + x, f32x4.min(all, f32x4.max(none, value)));
    }
    for (; x < rowBytes; x += 4) {
      const soft: f32 = (load<f32>(up + x) + load<f32>(under + x) + 2 * load<f32>(here + x)) * <f32>0.0625;
      const code = load<f32>(row + x);
      store<f32>(row + x, max<f32>(0, min<f32>(255, code + amount * (code - soft))));
    }
  }
}
