import { build } from 'esbuild';

/** Bundles the parties into `outdir`: their workers need files that Node can load. */
export const bundleParties = (outdir, more = {}) =>
  build({
    entryPoints: { run: 'test/parties/run.ts', worker: 'test/parties/worker.ts' },
    outdir,
    outExtension: { '.js': '.mjs' },
    bundle: true,
    splitting: true,
    format: 'esm',
    platform: 'node',
    target: 'node20.19',
    packages: 'external',
    logLevel: 'warning',
    ...more,
  });
