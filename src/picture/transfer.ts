/** sRGB (IEC 61966-2-1): gamma-coded 0…1 to linear light 0…1. */
export const linearOf = (coded: number): number =>
  coded <= 0.04045 ? coded / 12.92 : ((coded + 0.055) / 1.055) ** 2.4;

/** Linear light 0…1 to gamma-coded 0…1. */
export const codedOf = (linear: number): number =>
  linear <= 0.0031308 ? linear * 12.92 : 1.055 * linear ** (1 / 2.4) - 0.055;

/** Linear light of each 8-bit code. */
export const linearTable = Float32Array.from({ length: 256 }, (_, code) => linearOf(code / 255));
