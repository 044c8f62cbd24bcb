// Separable resampling, four output rows at a time. Addresses are bytes in the kernel's memory; floats are 32 bits wide.

/** One row of luma bytes, `step` apart, as linear light by a table of 256. */
export function lighten(from: usize, step: usize, count: i32, table: usize, to: usize): void {
  for (let x = 0; x < count; x++) {
    store<f32>(to, load<f32>(table + ((<usize>load<u8>(from)) << 2)));
    from += step;
    to += 4;
  }
}

/**
 * Four rows through their kernels: `rows` holds 4 · taps addresses of input rows, `weights` as many weights. Columns come
 * out side by side, four rows each: to[4 · x + row]. Reads and writes whole fours of columns.
 */
export function downFour(rows: usize, weights: usize, taps: i32, columns: i32, to: usize): void {
  const rowBytes = (<usize>taps) << 2;
  for (let x: usize = 0, end = (<usize>columns) << 2; x < end; x += 16) {
    let a = f32x4.splat(0);
    let b = f32x4.splat(0);
    let c = f32x4.splat(0);
    let d = f32x4.splat(0);
    for (let k: usize = 0; k < rowBytes; k += 4) {
      const at = rows + k;
      const weight = weights + k;
      a = f32x4.add(a, f32x4.mul(v128.load32_splat(weight), v128.load(<usize>load<u32>(at) + x)));
      b = f32x4.add(b, f32x4.mul(v128.load32_splat(weight + rowBytes), v128.load(<usize>load<u32>(at + rowBytes) + x)));
      c = f32x4.add(
        c,
        f32x4.mul(v128.load32_splat(weight + 2 * rowBytes), v128.load(<usize>load<u32>(at + 2 * rowBytes) + x)),
      );
      d = f32x4.add(
        d,
        f32x4.mul(v128.load32_splat(weight + 3 * rowBytes), v128.load(<usize>load<u32>(at + 3 * rowBytes) + x)),
      );
    }
    const ab = v128.shuffle<f32>(a, b, 0, 4, 1, 5);
    const cd = v128.shuffle<f32>(c, d, 0, 4, 1, 5);
    const abEnd = v128.shuffle<f32>(a, b, 2, 6, 3, 7);
    const cdEnd = v128.shuffle<f32>(c, d, 2, 6, 3, 7);
    v128.store(to, v128.shuffle<f64>(ab, cd, 0, 2));
    v128.store(to, v128.shuffle<f64>(ab, cd, 1, 3), 16);
    v128.store(to, v128.shuffle<f64>(abEnd, cdEnd, 0, 2), 32);
    v128.store(to, v128.shuffle<f64>(abEnd, cdEnd, 1, 3), 48);
    to += 64;
  }
}

/**
 * The columns of `downFour` through theirs: output x takes `taps` columns from first[x] on. Light becomes a code by a table
 * over the root of light, 0 to `steps`. Each of the four rows has its own address; outputs lie `go` bytes apart.
 */
export function acrossFour(
  from: usize,
  first: usize,
  weights: usize,
  taps: i32,
  outputs: i32,
  codes: usize,
  steps: f32,
  row0: usize,
  row1: usize,
  row2: usize,
  row3: usize,
  go: i32,
): void {
  const scale = f32x4.splat(steps);
  const half = f32x4.splat(0.5);
  const none = f32x4.splat(0);
  const all = f32x4.splat(1);
  let x: usize = 0;
  for (let end = first + ((<usize>outputs) << 2); first < end; first += 4) {
    let at = from + ((<usize>load<u32>(first)) << 4);
    let sum = none;
    for (const last = weights + ((<usize>taps) << 2); weights < last; weights += 4) {
      sum = f32x4.add(sum, f32x4.mul(v128.load32_splat(weights), v128.load(at)));
      at += 16;
    }
    const light = f32x4.min(all, f32x4.max(none, sum));
    const root = i32x4.trunc_sat_f32x4_s(f32x4.add(half, f32x4.mul(scale, f32x4.sqrt(light))));
    store<f32>(row0 + x, load<f32>(codes + ((<usize>i32x4.extract_lane(root, 0)) << 2)));
    store<f32>(row1 + x, load<f32>(codes + ((<usize>i32x4.extract_lane(root, 1)) << 2)));
    store<f32>(row2 + x, load<f32>(codes + ((<usize>i32x4.extract_lane(root, 2)) << 2)));
    store<f32>(row3 + x, load<f32>(codes + ((<usize>i32x4.extract_lane(root, 3)) << 2)));
    x += <usize>go;
  }
}
