// One layer of the restoring network. Addresses are bytes in the kernel's memory; floats are 32 bits wide.

/**
 * Planes lie behind each other, `planeBytes` each, rows `rowBytes` apart; an output has the place of the upper left of its
 * inputs. Columns come in whole sixteens: what is beyond the last means nothing, and planes must have room for it. Below
 * zero, `leak` of a value is let through.
 * @param kernel outputs × inputs × side × side weights.
 */
export function convolve(
  from: usize,
  to: usize,
  planeBytes: usize,
  rowBytes: usize,
  rows: i32,
  columns: i32,
  inputs: i32,
  outputs: i32,
  side: i32,
  kernel: usize,
  bias: usize,
  leak: f32,
): void {
  const none = f32x4.splat(0);
  const through = f32x4.splat(leak);
  const own = (<usize>(inputs * side * side)) << 2;
  for (let o = 0; o < outputs; o++) {
    const start = v128.load32_splat(bias + ((<usize>o) << 2));
    for (let y = 0; y < rows; y++) {
      const row = <usize>y * rowBytes;
      for (let x: usize = 0, end = (<usize>columns) << 2; x < end; x += 64) {
        let a = start;
        let b = start;
        let c = start;
        let d = start;
        let weight = kernel;
        let plane = from + row + x;
        for (let i = 0; i < inputs; i++) {
          let line = plane;
          for (let ky = 0; ky < side; ky++) {
            for (let at = line, last = line + ((<usize>side) << 2); at < last; at += 4) {
              const w = v128.load32_splat(weight);
              weight += 4;
              a = f32x4.add(a, f32x4.mul(w, v128.load(at)));
              b = f32x4.add(b, f32x4.mul(w, v128.load(at, 16)));
              c = f32x4.add(c, f32x4.mul(w, v128.load(at, 32)));
              d = f32x4.add(d, f32x4.mul(w, v128.load(at, 48)));
            }
            line += rowBytes;
          }
          plane += planeBytes;
        }
        const out = to + row + x;
        v128.store(out, f32x4.add(f32x4.max(a, none), f32x4.mul(through, f32x4.min(a, none))));
        v128.store(out, f32x4.add(f32x4.max(b, none), f32x4.mul(through, f32x4.min(b, none))), 16);
        v128.store(out, f32x4.add(f32x4.max(c, none), f32x4.mul(through, f32x4.min(c, none))), 32);
        v128.store(out, f32x4.add(f32x4.max(d, none), f32x4.mul(through, f32x4.min(d, none))), 48);
      }
    }
    kernel += own;
    to += planeBytes;
  }
}
