// Bundles the program into dist/:
//   slipshutter.cjs   what is started: runs the service from its cache, or loads the tools
//   run.bundle        the service in one file, plain ASCII, wrapped as a function for the loader
//   *-thread.mjs      programs of its threads
//   tools.mjs, …      all other commands and the benchmark, in shared pieces
// Native and wasm packages stay outside everywhere. With `service FOLDER`, only what the board needs, and there.
import { chmodSync, rmSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { build } from 'esbuild';

const shared = { bundle: true, platform: 'node', target: 'node20.19', logLevel: 'warning' };

export const buildModules = (entryPoints, folder) =>
  build({
    ...shared,
    entryPoints,
    outdir: folder,
    outExtension: { '.js': '.mjs' },
    splitting: true,
    format: 'esm',
    packages: 'external',
  });

/**
 * Of the log's package, what opens files and starts threads of its own: the service gives it its way out, and loading that
 * draws in `assert`, which opens standard error, and `module`.
 */
const ownWayOut = {
  name: 'own way out',
  setup(build) {
    build.onResolve({ filter: /^(sonic-boom|\.\/transport)$/ }, ({ path, importer }) =>
      /[\\/]pino[\\/]/.test(importer) ? { path, namespace: 'left-out' } : undefined,
    );
    build.onLoad({ filter: /.*/, namespace: 'left-out' }, ({ path }) => ({
      contents: `module.exports = class { constructor() { throw new Error(${JSON.stringify(`left out of the service: ${path}`)}); } };`,
    }));
  },
};

/** The loader, and the service that `entry` starts. */
export const buildService = async (entry, folder) => {
  await Promise.all([
    build({
      ...shared,
      entryPoints: ['src/loader.ts'],
      outfile: `${folder}/slipshutter.cjs`,
      format: 'cjs',
      external: ['./tools.mjs'],
      banner: { js: '#!/usr/bin/env node' },
    }),
    build({
      ...shared,
      entryPoints: [entry],
      outfile: `${folder}/run.bundle`,
      format: 'cjs',
      // The other form of a package may call its own parts in a way that can't be followed.
      minifyWhitespace: true,
      minifySyntax: true,
      lineLimit: 120,
      mainFields: ['module', 'main'],
      external: ['koffi', 'epoll', 'onoff', 'serialport'],
      plugins: [ownWayOut],
      define: { 'import.meta.url': 'moduleUrl' },
      banner: {
        js: "(function(exports,require,module,__filename,__dirname){const moduleUrl=require('node:url').pathToFileURL(__filename).href;",
      },
      footer: { js: '})' },
    }),
  ]);
  chmodSync(`${folder}/slipshutter.cjs`, 0o755);
};

const threads = {
  'supervisor-thread': 'src/linux/supervisor-thread.ts',
  'darkroom-thread': 'src/linux/darkroom-thread.ts',
};
const workers = { 'gather-worker': 'src/gather/worker.ts' };
const tools = { tools: 'src/cli/main.ts', bench: 'test/bench/bench.ts' };

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  const serviceOnly = process.argv[2] === 'service';
  const folder = serviceOnly ? process.argv[3] : 'dist';
  rmSync(folder, { recursive: true, force: true });
  await Promise.all([
    buildService('src/cli/main-run.ts', folder),
    buildModules(serviceOnly ? threads : { ...threads, ...workers, ...tools }, folder),
  ]);
}
