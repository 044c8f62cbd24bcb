// Compiles inner loops (AssemblyScript) to what is kept with the sources: src/ROOM/wasm/all.ts to src/ROOM/kernels-binary.ts.
import { writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import asc from 'assemblyscript/asc';

const rooms = ['picture', 'gather'];
const pathIn = (room, name) => fileURLToPath(new URL(`../../${room}/${name}`, import.meta.url));

/** The compiled module of a room in base64. Throws with the compiler's words. */
export const compileKernels = async (room = 'picture') => {
  let binary;
  const { error, stderr } = await asc.main(
    [
      'all.ts',
      ...['--baseDir', pathIn(room, 'wasm'), '--outFile', 'kernels.wasm', '--runtime', 'stub', '--importMemory'],
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

const write = (room, base64) => {
  const lines = base64.match(/.{1,110}/g).map((line, i) => `${i === 0 ? '' : '  '}'${line}'`);
  writeFileSync(
    pathIn(room, 'kernels-binary.ts'),
    `/** Written by npm run kernels: WebAssembly in base64. */\nexport const kernelsBase64 =\n  ${lines.join(' +\n')};\n`,
  );
};

if (process.argv[1] === fileURLToPath(import.meta.url))
  for (const room of rooms) write(room, await compileKernels(room));
