// Error diffusion over one row of errors: what comes from above is read just before what goes below is written in its place.
// Ink is 0…1 in floats, dots are bytes; `line` has room for width + 2 errors.

// Integers, since each dot waits for the one before; and no jump, since the processor would guess every other dot wrong.

/** Whole ink. */
const full: i32 = 1 << 24;
const half: i32 = full >> 1;

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
    let ahead = 0;
    let behind = 0;
    let under = 0;
    for (let n = 0; n < width; n++) {
      const value = <i32>(load<f32>(from) * <f32>full) + load<i32>(at) + ahead;
      const black = ~((value - half) >> 31) & 1;
      store<u8>(to, black);
      const error = (value - (black << 24)) >> 4;
      ahead = 7 * error;
      store<i32>(at - (step << 2), behind + 3 * error);
      behind = under + 5 * error;
      under = error;
      from += step << 2;
      to += step;
      at += step << 2;
    }
    store<i32>(at - (step << 2), behind);
  }
}

/**
 * Three neighbours, right, below left and below, with weights by the ink's level: `byLevel` holds for each of 256 levels the
 * first two in 1/16384 and the strength by which the threshold wanders in 1/65536; what is left of the error goes below.
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
    let ahead = 0;
    let behind = 0;
    for (let n = 0; n < width; n++) {
      // In 1/65536, so that products with weights fit.
      const wanted = <i32>(load<f32>(from) * 65536);
      const level = byLevel + ((<usize>((wanted * 255 + 32768) >> 16)) << 4);
      seed = seed * 1664525 + 1013904223;
      const threshold = 32768 + ((<i32>(seed >>> 25) * load<i32>(level, 8)) >> 7);
      const value = wanted + load<i32>(at) + ahead;
      const black = ~((value - threshold) >> 31) & 1;
      store<u8>(to, black);
      const error = value - (black << 16);
      ahead = (error * load<i32>(level)) >> 14;
      const belowBehind = (error * load<i32>(level, 4)) >> 14;
      store<i32>(at - (step << 2), behind + belowBehind);
      behind = error - ahead - belowBehind;
      from += step << 2;
      to += step;
      at += step << 2;
    }
    store<i32>(at - (step << 2), behind);
  }
}
