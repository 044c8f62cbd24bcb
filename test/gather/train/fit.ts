import { solve } from '../../../src/gather/homography.ts';
import type { Plane, Weights } from '../../../src/gather/restore.ts';
import { classCount, eachNeighbourhood, featureCounts } from '../../../src/gather/restore.ts';

export interface Example {
  bare: Plane;
  earlier: Plane | null;
  /** Gamma-coded tone, 0…1. */
  tone: Float32Array;
}

/** Least squares a class; classes seldom met lean on the fit over all. */
export const fitRound = (examples: Iterable<Example>, round: 0 | 1): Weights => {
  const n = featureCounts[round];
  const products = Array.from({ length: classCount }, () => new Float64Array(n * n));
  const targets = Array.from({ length: classCount }, () => new Float64Array(n));
  for (const { bare, earlier, tone } of examples)
    eachNeighbourhood(bare, earlier, (index, kind, features) => {
      const product = products[kind];
      const target = targets[kind];
      const wanted = tone[index];
      for (let i = 0; i < n; i++) {
        const f = features[i];
        if (f === 0) continue;
        target[i] += f * wanted;
        const row = i * n;
        for (let j = i; j < n; j++) product[row + j] += f * features[j];
      }
    });
  const allProduct = new Float64Array(n * n);
  const allTarget = new Float64Array(n);
  for (let c = 0; c < classCount; c++) {
    for (let i = 0; i < n * n; i++) allProduct[i] += products[c][i];
    for (let i = 0; i < n; i++) allTarget[i] += targets[c][i];
  }
  const total = allProduct[n * n - 1];
  const weights = new Float32Array(classCount * n);
  for (let c = 0; c < classCount; c++) {
    const lean = 3000 / total;
    const rows = Array.from({ length: n }, (_, i) => {
      const row = new Array<number>(n + 1);
      for (let j = 0; j < n; j++) {
        const at = i <= j ? i * n + j : j * n + i;
        row[j] = products[c][at] + lean * allProduct[at] + (i === j && i < n - 1 ? 0.5 : 0);
      }
      row[n] = targets[c][i] + lean * allTarget[i];
      return row;
    });
    const solved = solve(rows);
    if (!solved) throw new Error(`class ${c} can't be solved`);
    weights.set(solved, c * n);
  }
  return weights;
};
