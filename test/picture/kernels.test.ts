import { expect, it } from 'vitest';
import { kernelsBase64 } from '../../src/picture/kernels-binary.ts';
import { compileKernels } from '../../src/picture/wasm/compile.mjs';

it('the WebAssembly kept with the sources is what they compile to (npm run kernels)', async () => {
  expect(await compileKernels()).toBe(kernelsBase64);
});
