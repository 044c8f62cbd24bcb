import bwip from 'bwip-js/node';

/** Code 128 (ISO/IEC 15417) as bar and space widths in modules, bar first, subsets chosen by the library. */
export const encodeCode128 = (text: string): readonly number[] => {
  const [symbol] = bwip.raw('code128', text, {});
  if (!('sbs' in symbol)) throw new Error('the encoder gave no bars');
  return symbol.sbs;
};
