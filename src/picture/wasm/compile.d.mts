/** Compiles a room's inner loops; WebAssembly in base64. */
export const compileKernels: (room?: string) => Promise<string>;
