// Compiles the inner loops of this folder (AssemblyScript) to src/picture/kernels-binary.ts, which is kept with the sources.
import { writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import asc from 'assemblyscript/asc';

const folder = fileURLToPath(new URL('.', import.meta.url));
const target = fileURLToPath(new URL('../kernels-binary.ts', import.meta.url));

/** The compiled module in base64. Throws with the compiler's words. */
export const compileKernels = async () => {
  let binary;
  const { error, stderr } = await asc.main(
    [
      'all.ts',
      ...['--baseDir', folder, '--outFile', 'kernels.wasm', '--runtime', 'stub', '--importMemory'],
      ...['--optimizeLevel', '3', '--shrinkLevel', '0', '--noAssert', '--enable', 'simd'],
    ],
    {
      writeFile: (_name, content) => {
        binary = content;
      },
    },
  );
  if (error) throw new Error(`${error.message}\n${stderr}`);
  return Buffer.from(binary).toString('base64');
};

const write = base64 => {
  const lines = base64.match(/.{1,110}/g).map(line => `  '${line}'`);
  writeFileSync(
    target,
    `/** Written by npm run kernels: WebAssembly in base64. */\nexport const kernelsBase64 =\n${lines.join(' +\n')};\n`,
  );
};

if (process.argv[1] === fileURLToPath(import.meta.url)) write(await compileKernels());
