// Bundles the program: one file for the command line, one for the benchmark. Native and wasm packages stay outside.
import { rmSync } from 'node:fs';
import { build } from 'esbuild';

rmSync('dist', { recursive: true, force: true });
await build({
  entryPoints: {
    slipshutter: 'src/cli/main.ts',
    bench: 'test/bench/bench.ts',
    'supervisor-thread': 'src/linux/supervisor-thread.ts',
    'darkroom-thread': 'src/linux/darkroom-thread.ts',
  },
  outdir: 'dist',
  outExtension: { '.js': '.mjs' },
  bundle: true,
  splitting: true,
  format: 'esm',
  platform: 'node',
  target: 'node20.19',
  packages: 'external',
  logLevel: 'warning',
});
