/**
 * Bar and space widths of the symbol characters, ISO/IEC 15417 table 1: six digits each for values 0 to 105. Held against
 * another encoder in the tests.
 */
const widths =
  '212222222122222221121223121322131222122213122312132212221213221312231212112232122132122231113222123122123221223211221132' +
  '221231213212223112312131311222321122321221312212322112322211212123212321232121111323131123131321112313132113132311211313' +
  '231113231311112133112331132131113123113321133121313121211331231131213113213311213131311123311321331121312113312311332111' +
  '314111221411431111111224111422121124121421141122141221112214112412122114122411142112142211241211221114413111241112134111' +
  '111242121142121241114212124112124211411212421112421211212141214121412121111143111341131141114113114311411113411311113141' +
  '114131311141411131211412211214211232';
const stop = '2331112';
const codeC = 99;
const codeB = 100;
const start = { B: 104, C: 105 } as const;
type Subset = keyof typeof start;

interface Path {
  values: number[];
  subset: Subset;
}

const shorter = (...paths: (Path | null)[]): Path | null =>
  paths.reduce((best, path) => (path && (!best || path.values.length < best.values.length) ? path : best), null);

/** In subset C a character stands for two digits; changing over costs one. The shortest way through the text. */
const valuesOf = (text: string): number[] => {
  /** Shortest path that has written so many letters, by the subset that it ends in. */
  const best: Record<Subset, Path | null>[] = Array.from({ length: text.length + 1 }, () => ({ B: null, C: null }));
  const change = (path: Path | null, to: Subset): Path | null =>
    path && { subset: to, values: [...path.values, to === 'B' ? codeB : codeC] };
  best[0] = { B: { subset: 'B', values: [start.B] }, C: { subset: 'C', values: [start.C] } };
  for (let i = 0; i < text.length; i++) {
    const { B, C } = best[i];
    const [inB, inC] = i === 0 ? [B, C] : [shorter(B, change(C, 'B')), shorter(C, change(B, 'C'))];
    if (inB) {
      const path: Path = { subset: 'B', values: [...inB.values, text.charCodeAt(i) - 32] };
      best[i + 1].B = shorter(best[i + 1].B, path);
    }
    if (inC && /^\d\d/.test(text.slice(i, i + 2))) {
      const path: Path = { subset: 'C', values: [...inC.values, Number(text.slice(i, i + 2))] };
      best[i + 2].C = shorter(best[i + 2].C, path);
    }
  }
  return shorter(best[text.length].B, best[text.length].C)?.values ?? [];
};

/** Code 128 (ISO/IEC 15417) as bar and space widths in modules, bar first. Takes printable ASCII. */
export const encodeCode128 = (text: string): readonly number[] => {
  if (!/^[ -~]+$/.test(text)) throw new Error(`not printable ASCII: ${JSON.stringify(text)}`);
  const values = valuesOf(text);
  const check = values.reduce((sum, value, i) => sum + value * Math.max(1, i), 0) % 103;
  const symbol = [...values, check].map(value => widths.slice(6 * value, 6 * value + 6)).join('') + stop;
  return [...symbol].map(Number);
};
