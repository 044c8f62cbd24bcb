// Error diffusion over one row of errors: what comes from above is read just before what goes below is written in its place.
// Ink is 0…1 in floats, dots are bytes; `line` has room for width + 2 errors.

/** Floyd and Steinberg's four neighbours; every other row from right to left when `serpentine`. */
export function diffuseFour(ink: usize, dots: usize, width: i32, height: i32, line: usize, serpentine: bool): void {
  memory.fill(line, 0, (<usize>(width + 2)) << 2);
  for (let y = 0; y < height; y++) {
    const back = serpentine && (y & 1) === 1;
    const step: isize = back ? -1 : 1;
    const start = <usize>(back ? width - 1 : 0);
    let from = ink + ((<usize>(y * width) + start) << 2);
    let to = dots + <usize>(y * width) + start;
    let at = line + ((start + 1) << 2);
    let ahead: f32 = 0;
    let behind: f32 = 0;
    let under: f32 = 0;
    for (let n = 0; n < width; n++) {
      const value = load<f32>(from) + load<f32>(at) + ahead;
      const black = value >= 0.5;
      store<u8>(to, black ? 1 : 0);
      const error: f32 = (value - (black ? <f32>1 : <f32>0)) * <f32>0.0625;
      ahead = 7 * error;
      store<f32>(at - (step << 2), behind + 3 * error);
      behind = under + 5 * error;
      under = error;
      from += step << 2;
      to += step;
      at += step << 2;
    }
    store<f32>(at - (step << 2), behind);
  }
}

/**
 * Three neighbours, right, below left and below, with weights by the ink's level: `byLevel` holds those three and the
 * strength by which the threshold wanders, for each of 256 levels.
 */
export function diffuseByLevel(ink: usize, dots: usize, width: i32, height: i32, line: usize, byLevel: usize): void {
  memory.fill(line, 0, (<usize>(width + 2)) << 2);
  // A fixed seed: the same picture is the same print.
  let seed: u32 = 0x2f6e2b1;
  for (let y = 0; y < height; y++) {
    const back = (y & 1) === 1;
    const step: isize = back ? -1 : 1;
    const start = <usize>(back ? width - 1 : 0);
    let from = ink + ((<usize>(y * width) + start) << 2);
    let to = dots + <usize>(y * width) + start;
    let at = line + ((start + 1) << 2);
    let ahead: f32 = 0;
    let behind: f32 = 0;
    for (let n = 0; n < width; n++) {
      const wanted = load<f32>(from);
      const level = byLevel + ((<usize>(<i32>(wanted * 255 + <f32>0.5))) << 4);
      seed = seed * 1664525 + 1013904223;
      const threshold: f32 = <f32>0.5 + <f32>(seed >>> 25) * load<f32>(level, 12);
      const value = wanted + load<f32>(at) + ahead;
      const black = value >= threshold;
      store<u8>(to, black ? 1 : 0);
      const error: f32 = value - (black ? <f32>1 : <f32>0);
      ahead = error * load<f32>(level);
      store<f32>(at - (step << 2), behind + error * load<f32>(level, 4));
      behind = error * load<f32>(level, 8);
      from += step << 2;
      to += step;
      at += step << 2;
    }
    store<f32>(at - (step << 2), behind);
  }
}
