import { kernelsBase64 } from './kernels-binary.ts';
import { Instance, Memory, Module, type WasmModule } from './web-assembly.ts';

/** The compiled inner loops: arguments are byte offsets in their memory, counts and numbers. See `wasm/`. */
interface Functions {
  lighten(from: number, step: number, count: number, table: number, to: number): void;
  downFour(rows: number, weights: number, taps: number, columns: number, to: number): void;
  acrossFour(
    from: number,
    first: number,
    weights: number,
    taps: number,
    outputs: number,
    codes: number,
    steps: number,
    row0: number,
    row1: number,
    row2: number,
    row3: number,
    go: number,
  ): void;
  diffuseFour(ink: number, dots: number, width: number, height: number, line: number, serpentine: boolean): void;
  diffuseByLevel(ink: number, dots: number, width: number, height: number, line: number, byLevel: number): void;
  countCodes(codes: number, count: number, counts: number): void;
  countTile(codes: number, columns: number, rows: number, stride: number, counts: number): void;
  applyCurve(codes: number, count: number, table: number): void;
  lookUp(codes: number, count: number, table: number, fine: number, to: number): void;
  blendRow(
    codes: number,
    columns: number,
    above: number,
    below: number,
    left: number,
    right: number,
    share: number,
    down: number,
    strength: number,
  ): void;
  sharpenCodes(codes: number, columns: number, rows: number, amount: number, work: number): void;
  searchTables(coverage: number, changes: number, correlation: number, least: number): void;
  searchOpen(
    width: number,
    height: number,
    bits: number,
    wanted: number,
    patterns: number,
    seen: number,
    line: number,
    smooth: number,
  ): void;
  searchTake(row: number): void;
  searchCount(row: number, along: number, down: number): void;
  searchRows(from: number, to: number, before: number, after: number): void;
  searchStore(from: number, to: number): void;
}

/** Inner loops over a memory of their own, and arrays that lie in it, zeroed and aligned to 16 bytes. */
export interface Kernels extends Functions {
  floats(length: number): Float32Array;
  words(length: number): Uint32Array;
  integers(length: number): Int32Array;
  bytes(length: number): Uint8Array;
}

const pageBytes = 65_536;
const aligned = (bytes: number): number => (bytes + 15) & ~15;
/** Compiled when the first picture is prepared for, so that nothing that is started waits for it. */
let compiled: WasmModule | null = null;

/** @param arrayBytes What all arrays that will be asked for take together; see `roomFor`. */
export const createKernels = (arrayBytes: number): Kernels => {
  compiled ??= new Module(Buffer.from(kernelsBase64, 'base64'));
  const memory = new Memory({ initial: Math.ceil(arrayBytes / pageBytes) + 1 });
  const { exports } = new Instance(compiled, { env: { memory } });
  let next = pageBytes;
  const take = (bytes: number): number => {
    const at = next;
    next += aligned(bytes);
    if (next > memory.buffer.byteLength) throw new RangeError('the kernels’ memory was reckoned too small');
    return at;
  };
  return {
    ...(exports as unknown as Functions),
    floats: length => new Float32Array(memory.buffer, take(4 * length), length),
    words: length => new Uint32Array(memory.buffer, take(4 * length), length),
    integers: length => new Int32Array(memory.buffer, take(4 * length), length),
    bytes: length => new Uint8Array(memory.buffer, take(length), length),
  };
};

/** Bytes that arrays of these lengths take, elements of `elementBytes` each. */
export const roomFor = (elementBytes: number, ...lengths: number[]): number =>
  lengths.reduce((sum, length) => sum + aligned(elementBytes * length), 0);
