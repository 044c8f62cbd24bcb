import bwip from 'bwip-js/node';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { encodeCode128 } from '../../src/print/code128.ts';
import { imprintText } from '../../src/print/imprint.ts';

const reference = (text: string): number[] => {
  const [symbol] = bwip.raw('code128', text, {});
  if (!('sbs' in symbol)) throw new Error('no bars');
  return [...symbol.sbs];
};
/** The six widths before the stop: the check character. */
const checkOf = (text: string) => encodeCode128(text).slice(-13, -7);
/** In subset C two digits are their own value. */
const characterOf = (value: number) => encodeCode128(String(value)).slice(6, 12);

describe('Code 128', () => {
  // ISO/IEC 15417 as explained in published worked examples: the check of abcdef in subset B is 97, that of HI345678 is
  // 67 when it starts in subset A (103); we start in B (104), which makes it one more.
  it.each([
    ['HI345678', 67 + 1],
    ['abcdef', 97],
  ])('%s has the check character of the published example', (text, value) => {
    expect(checkOf(text)).toEqual(characterOf(value));
  });

  it('is what another encoder makes of every imprint', () => {
    const mark = fc.stringMatching(/^[A-Z0-9]{1,4}$/);
    fc.assert(
      fc.property(mark, fc.integer({ min: 0, max: 999_999 }), (of, shot) => {
        const text = imprintText(of, shot);
        expect(encodeCode128(text)).toEqual(reference(text));
      }),
    );
  });

  it('has every character of subset B as the other encoder has it', () => {
    for (let code = 32; code < 127; code++) {
      const text = `a${String.fromCharCode(code)}a`;
      expect(encodeCode128(text)).toEqual(reference(text));
    }
  });

  it('is never longer than what the other encoder makes', () => {
    fc.assert(
      fc.property(fc.stringMatching(/^[A-Z0-9 ]{1,24}$/), text => {
        expect(encodeCode128(text).length).toBeLessThanOrEqual(reference(text).length);
      }),
    );
  });

  it('refuses what it has no characters for', () => {
    expect(() => encodeCode128('Käse')).toThrow(/printable ASCII/);
    expect(() => encodeCode128('')).toThrow(/printable ASCII/);
  });
});
