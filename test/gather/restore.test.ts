import { describe, expect, it } from 'vitest';
import { chance } from '../../sim/random.ts';
import { kernelsBase64 } from '../../src/gather/kernels-binary.ts';
import { createNetwork, type Layer } from '../../src/gather/network.ts';
import { compileKernels } from '../../src/picture/wasm/compile.mjs';
import { forward } from './train/plain-net.ts';

const layersOf = (seed: number): Layer[] => {
  const draw = chance(seed);
  return [
    [2, 5, 5],
    [5, 4, 3],
    [4, 1, 3],
  ].map(([inputs, outputs, side]) => ({
    inputs,
    outputs,
    side,
    kernel: Array.from({ length: inputs * outputs * side * side }, () => draw.normal() * 0.2),
    bias: Array.from({ length: outputs }, () => draw.normal() * 0.1),
  }));
};

describe('the restoring network', () => {
  it('does by WebAssembly what it does in plain words, band after band', () => {
    const layers = layersOf(4);
    const draw = chance(5);
    const [width, height, margin] = [37, 29, 4];
    const input = Float32Array.from({ length: 2 * width * height }, () => draw.next() - 0.5);
    const plain = forward(input, width, height, layers)[3];
    const network = createNetwork(layers, width, 16 + 2 * margin);
    const [columns, rows] = [width - 2 * margin, height - 2 * margin];
    for (const [top, count] of [
      [0, 16],
      [16, rows - 16],
    ]) {
      const band = network.run(input, height, top, count);
      expect(band.length).toBe(count * columns);
      band.forEach((value, k) => {
        expect(value).toBeCloseTo(plain[top * columns + k], 4);
      });
    }
  });

  it('is kept with the sources as what they compile to (npm run kernels)', async () => {
    expect(await compileKernels('gather')).toBe(kernelsBase64);
  });
});
