import { Instance, Memory, Module, type WasmModule } from '../picture/web-assembly.ts';
import { kernelsBase64 } from './kernels-binary.ts';

/** A small convolution network by WebAssembly: the inner loop is in `wasm/`. */

export interface Layer {
  inputs: number;
  outputs: number;
  /** Side of the square kernel, odd. */
  side: number;
  /** outputs × inputs × side × side. */
  kernel: ArrayLike<number>;
  bias: ArrayLike<number>;
}

/** Pixels by which the layers together narrow the picture on each side. */
export const marginOf = (layers: readonly Layer[]): number => layers.reduce((sum, { side }) => sum + (side >> 1), 0);
/** What is let through below zero between layers. */
export const leak = 0.1;

interface Kernels {
  convolve(
    from: number,
    to: number,
    planeBytes: number,
    rowBytes: number,
    rows: number,
    columns: number,
    inputs: number,
    outputs: number,
    side: number,
    kernel: number,
    bias: number,
    leak: number,
  ): void;
}

const pageBytes = 65_536;
let compiled: WasmModule | null = null;

/**
 * @param width Columns of the input, margin included.
 * @param mostRows Rows of the tallest band, margin included.
 */
export const createNetwork = (layers: readonly Layer[], width: number, mostRows: number) => {
  compiled ??= new Module(Buffer.from(kernelsBase64, 'base64'));
  // Whole sixteens of columns are reckoned, reaching over the end of the last row.
  const stride = (width + 15) & ~15;
  const planeFloats = stride * mostRows + 32;
  const planes = Math.max(...layers.map(({ inputs, outputs }) => Math.max(inputs, outputs)));
  const weightFloats = layers.reduce((sum, { kernel, bias }) => sum + kernel.length + bias.length, 0);
  const floats = 2 * planes * planeFloats + weightFloats;
  const memory = new Memory({ initial: Math.ceil((4 * floats) / pageBytes) + 1 });
  const { convolve } = new Instance(compiled, { env: { memory } }).exports as Kernels;
  const all = new Float32Array(memory.buffer, pageBytes, floats);
  let next = 2 * planes * planeFloats;
  const put = (values: ArrayLike<number>): number => {
    const at = next;
    all.set(values, at);
    next += values.length;
    return pageBytes + 4 * at;
  };
  const placed = layers.map(layer => ({ ...layer, kernelAt: put(layer.kernel), biasAt: put(layer.bias) }));
  const margin = marginOf(layers);
  return {
    /**
     * A band of the picture through all layers.
     * @param input Planes of `height` rows of `width`.
     * @param top First row of the input.
     * @param rows Rows that come out; `rows` + 2 margins go in.
     */
    run(input: Float32Array, height: number, top: number, rows: number): Float32Array {
      const tall = rows + 2 * margin;
      for (let plane = 0; plane < layers[0].inputs; plane++)
        for (let y = 0; y < tall; y++) {
          const from = (plane * height + top + y) * width;
          all.set(input.subarray(from, from + width), plane * planeFloats + y * stride);
        }
      let [from, to, left, columns] = [0, planes * planeFloats, tall, width];
      placed.forEach(({ inputs, outputs, side, kernelAt, biasAt }, index) => {
        left -= side - 1;
        columns -= side - 1;
        convolve(
          pageBytes + 4 * from,
          pageBytes + 4 * to,
          4 * planeFloats,
          4 * stride,
          left,
          columns,
          inputs,
          outputs,
          side,
          kernelAt,
          biasAt,
          index < placed.length - 1 ? leak : 1,
        );
        [from, to] = [to, from];
      });
      const out = new Float32Array(rows * columns);
      for (let y = 0; y < rows; y++) out.set(all.subarray(from + y * stride, from + y * stride + columns), y * columns);
      return out;
    },
  };
};
