/** sRGB (IEC 61966-2-1): gamma-coded 0…1 to linear light 0…1. */
export const linearOf = (coded: number): number =>
  coded <= 0.04045 ? coded / 12.92 : ((coded + 0.055) / 1.055) ** 2.4;

/** Linear light 0…1 to gamma-coded 0…1. */
export const codedOf = (linear: number): number =>
  linear <= 0.0031308 ? linear * 12.92 : 1.055 * linear ** (1 / 2.4) - 0.055;

/** Linear light of each 8-bit code. */
export const linearTable = Float32Array.from({ length: 256 }, (_, code) => linearOf(code / 255));

const fine = 4096;
const fineTable = Float32Array.from({ length: fine + 2 }, (_, i) => codedOf(Math.min(1, i / fine)) * 255);

/** Code 0…255 (not rounded) of linear light, by table; near black, where the curve is steep, exact. */
export const codeOfLinear = (linear: number): number => {
  if (linear <= 0) return 0;
  if (linear >= 1) return 255;
  if (linear < 0.01) return codedOf(linear) * 255;
  const at = linear * fine;
  const i = at | 0;
  return fineTable[i] + (fineTable[i + 1] - fineTable[i]) * (at - i);
};
