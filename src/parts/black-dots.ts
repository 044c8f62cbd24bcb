/** Black dots in each byte. */
const onesIn = new Uint8Array(256).map((_, byte) => byte.toString(2).replaceAll('0', '').length);

/** Black dots of packed bytes, from byte `from` up to byte `to`. */
export const blackDots = (data: Uint8Array, from = 0, to = data.length): number => {
  let black = 0;
  for (let i = from; i < to; i++) black += onesIn[data[i]];
  return black;
};
