/**
 * A small letter set drawn for this project: cells of 5 × 8 dots, the last row for what hangs below the line. Each glyph is
 * eight digits in base 32, one a row, the highest bit leftmost.
 */
const drawn: Readonly<Record<string, string>> = {
  ' ': '00000000',
  '!': '44444040',
  '"': 'aa000000',
  '#': 'aavavaa0',
  $: '4fke5u40',
  '%': 'op248j30',
  '&': 'cik8lid0',
  "'": '44000000',
  '(': '24888420',
  ')': '84222480',
  '*': '04lel400',
  '+': '044v4400',
  ',': '00000c48',
  '-': '000e0000',
  '.': '00000cc0',
  '/': '11248gg0',
  0: 'ehjlphe0',
  1: '4c4444e0',
  2: 'eh168gv0',
  3: 'u11e11u0',
  4: '26aiv220',
  5: 'vgu11he0',
  6: '68guhhe0',
  7: 'v1248880',
  8: 'ehhehhe0',
  9: 'ehhf12c0',
  ':': '0cc0cc00',
  ';': '0cc0c480',
  '<': '248g8420',
  '=': '00v0v000',
  '>': '84212480',
  '?': 'eh124040',
  '@': 'ehnlnge0',
  A: 'ehhvhhh0',
  B: 'uhhuhhu0',
  C: 'ehggghe0',
  D: 'uhhhhhu0',
  E: 'vgguggv0',
  F: 'vgguggg0',
  G: 'ehgnhhf0',
  H: 'hhhvhhh0',
  I: 'e44444e0',
  J: '72222ic0',
  K: 'hikokih0',
  L: 'ggggggv0',
  M: 'hrllhhh0',
  N: 'hhpljhh0',
  O: 'ehhhhhe0',
  P: 'uhhuggg0',
  Q: 'ehhhlid0',
  R: 'uhhukih0',
  S: 'fgge11u0',
  T: 'v4444440',
  U: 'hhhhhhe0',
  V: 'hhhhha40',
  W: 'hhhllrh0',
  X: 'hha4ahh0',
  Y: 'hha44440',
  Z: 'v1248gv0',
  '[': 'e88888e0',
  '\\': 'gg842110',
  ']': 'e22222e0',
  '^': '4ah00000',
  _: '0000000v',
  '`': '84000000',
  a: '00e1fhf0',
  b: 'gguhhhu0',
  c: '00fgggf0',
  d: '11fhhhf0',
  e: '00ehvge0',
  f: '68u88880',
  g: '00fhhf1e',
  h: 'gguhhhh0',
  i: '40c444e0',
  j: '206222ic',
  k: 'ggikoki0',
  l: 'c44444e0',
  m: '00qllll0',
  n: '00uhhhh0',
  o: '00ehhhe0',
  p: '00uhhugg',
  q: '00fhhf11',
  r: '00mpggg0',
  s: '00fge1u0',
  t: '88u88960',
  u: '00hhhhf0',
  v: '00hhha40',
  w: '00hllla0',
  x: '00ha4ah0',
  y: '00hhhf1e',
  z: '00v248v0',
  '{': '24484420',
  '|': '44444440',
  '}': '84424480',
  '~': '008l2000',
};

/** Combining marks over small letters: their top row. */
const marks: Readonly<Record<string, number>> = { '\u0300': 8, '\u0301': 2, '\u0302': 4, '\u0303': 13, '\u0308': 10 };

export const glyphWidth = 5;
export const glyphHeight = 8;
/** From letter to letter. */
export const glyphAdvance = 6;

const spelled: Readonly<Record<string, string>> = {
  ß: 'ss',
  '–': '-',
  '—': '-',
  '’': "'",
  '·': '.',
  '…': '...',
  '×': 'x',
};

/** Eight rows of five bits a letter. Accents stay where there is room; what isn't in the set becomes a question mark. */
export const glyphsOf = (words: string): Uint8Array[] => {
  const glyphs: Uint8Array[] = [];
  for (const letter of words.replace(/[ß–—’·…×]/g, found => spelled[found]).normalize('NFD')) {
    const code = letter.codePointAt(0) as number;
    if (code >= 0x300 && code <= 0x36f) {
      const below = glyphs.at(-1);
      if (below && below[0] === 0) below[0] = marks[letter] ?? 0;
      continue;
    }
    const digits = Object.hasOwn(drawn, letter) ? drawn[letter] : drawn['?'];
    glyphs.push(Uint8Array.from(digits, digit => Number.parseInt(digit, 32)));
  }
  return glyphs;
};
