/** Compiles the inner loops; WebAssembly in base64. */
export const compileKernels: () => Promise<string>;
