// Bundles the parties into the tool cache and runs them: workers need files that Node can load.
import { spawnSync } from 'node:child_process';
import { build } from 'esbuild';

const outdir = 'node_modules/.cache/parties';
await build({
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
});
const { status } = spawnSync(process.execPath, [`${outdir}/run.mjs`, ...process.argv.slice(2)], { stdio: 'inherit' });
process.exitCode = status ?? 1;
