/** A compiled module; only `Instance` looks into it. */
export type WasmModule = object;
export interface WasmMemory {
  readonly buffer: ArrayBuffer;
}

/** What is used of the WebAssembly JavaScript Interface: Node has it, its types lack it. */
export const { Module, Instance, Memory, validate } = (
  globalThis as unknown as {
    WebAssembly: {
      Module: new (binary: Uint8Array) => WasmModule;
      Instance: new (module: WasmModule, imports: object) => { exports: object };
      Memory: new (size: { initial: number }) => WasmMemory;
      validate(binary: Uint8Array): boolean;
    };
  }
).WebAssembly;
