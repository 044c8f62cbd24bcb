// Tone, in place on gamma-coded floats 0…255.

function countUp(counts: usize, code: i32): void {
  const at = counts + ((<usize>code) << 2);
  store<u32>(at, load<u32>(at) + 1);
}

/**
 * Counts codes by their whole part into 256 words; `counts` has room for four times as many, since neighbours are often
 * alike and would wait for each other's count.
 */
export function countCodes(codes: usize, count: i32, counts: usize): void {
  memory.fill(counts, 0, 4096);
  const fours = codes + ((<usize>(count & ~3)) << 2);
  const end = codes + ((<usize>count) << 2);
  for (; codes < fours; codes += 16) {
    const whole = i32x4.trunc_sat_f32x4_s(v128.load(codes));
    countUp(counts, i32x4.extract_lane(whole, 0));
    countUp(counts + 1024, i32x4.extract_lane(whole, 1));
    countUp(counts + 2048, i32x4.extract_lane(whole, 2));
    countUp(counts + 3072, i32x4.extract_lane(whole, 3));
  }
  for (; codes < end; codes += 4) countUp(counts, <i32>load<f32>(codes));
  for (let at: usize = counts; at < counts + 1024; at += 16)
    v128.store(
      at,
      i32x4.add(i32x4.add(v128.load(at), v128.load(at, 1024)), i32x4.add(v128.load(at, 2048), v128.load(at, 3072))),
    );
}

/** Counts a tile's codes into 64 words. */
export function countTile(codes: usize, columns: i32, rows: i32, stride: i32, counts: usize): void {
  memory.fill(counts, 0, 256);
  for (let y = 0; y < rows; y++) {
    let at = codes + ((<usize>(y * stride)) << 2);
    for (const end = at + ((<usize>columns) << 2); at < end; at += 4) countUp(counts, <i32>load<f32>(at) >> 2);
  }
}

/** Through a table of 257, straight between its values. Goes by fours, over the end where need be. */
export function applyCurve(codes: usize, count: i32, table: usize): void {
  for (const end = codes + ((<usize>count) << 2); codes < end; codes += 16) {
    const code = v128.load(codes);
    const whole = i32x4.trunc_sat_f32x4_s(code);
    // From each lane's place a value and the next one.
    const first = v128.load64_lane(
      table + ((<usize>i32x4.extract_lane(whole, 1)) << 2),
      v128.load64_zero(table + ((<usize>i32x4.extract_lane(whole, 0)) << 2)),
      1,
    );
    const second = v128.load64_lane(
      table + ((<usize>i32x4.extract_lane(whole, 3)) << 2),
      v128.load64_zero(table + ((<usize>i32x4.extract_lane(whole, 2)) << 2)),
      1,
    );
    const from = v128.shuffle<f32>(first, second, 0, 2, 4, 6);
    const to = v128.shuffle<f32>(first, second, 1, 3, 5, 7);
    const share = f32x4.sub(code, f32x4.convert_i32x4_s(whole));
    v128.store(codes, f32x4.add(from, f32x4.mul(f32x4.sub(to, from), share)));
  }
}

/** What a table says to each code, nearest of `fine` steps a code. Goes by fours, over the end where need be. */
export function lookUp(codes: usize, count: i32, table: usize, fine: f32, to: usize): void {
  const scale = f32x4.splat(fine);
  const half = f32x4.splat(0.5);
  for (const end = codes + ((<usize>count) << 2); codes < end; codes += 16) {
    const at = i32x4.trunc_sat_f32x4_s(f32x4.add(half, f32x4.mul(scale, v128.load(codes))));
    store<f32>(to, load<f32>(table + ((<usize>i32x4.extract_lane(at, 0)) << 2)));
    store<f32>(to, load<f32>(table + ((<usize>i32x4.extract_lane(at, 1)) << 2)), 4);
    store<f32>(to, load<f32>(table + ((<usize>i32x4.extract_lane(at, 2)) << 2)), 8);
    store<f32>(to, load<f32>(table + ((<usize>i32x4.extract_lane(at, 3)) << 2)), 12);
    to += 16;
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
  const by = f32x4.splat(strength);
  const lower = f32x4.splat(down);
  const end = (<usize>columns) << 2;
  let x: usize = 0;
  for (; x + 16 <= end; x += 16) {
    const code = v128.load(codes + x);
    const place = i32x4.shl(i32x4.trunc_sat_f32x4_s(code), 2);
    const l = i32x4.add(v128.load(left + x), place);
    const r = i32x4.add(v128.load(right + x), place);
    const across = v128.load(share + x);
    const a = gather(above, l);
    const c = gather(below, l);
    const top = f32x4.add(a, f32x4.mul(f32x4.sub(gather(above, r), a), across));
    const low = f32x4.add(c, f32x4.mul(f32x4.sub(gather(below, r), c), across));
    const mapped = f32x4.add(top, f32x4.mul(f32x4.sub(low, top), lower));
    const value = f32x4.add(code, f32x4.mul(by, f32x4.sub(mapped, code)));
    v128.store(codes + x, f32x4.min(f32x4.splat(255), f32x4.max(f32x4.splat(0), value)));
  }
  for (; x < end; x += 4) {
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

/** The floats at four byte offsets. */
function gather(from: usize, at: v128): v128 {
  let found = v128.load32_zero(from + <usize>i32x4.extract_lane(at, 0));
  found = v128.load32_lane(from + <usize>i32x4.extract_lane(at, 1), found, 1);
  found = v128.load32_lane(from + <usize>i32x4.extract_lane(at, 2), found, 2);
  return v128.load32_lane(from + <usize>i32x4.extract_lane(at, 3), found, 3);
}

/** Unsharp masking with a 3 × 3 binomial mask, the picture's edges repeated. `work` is as large as the picture. */
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
