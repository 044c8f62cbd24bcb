// Bundles the program into dist/:
//   slipshutter.cjs   what is started: runs the service from its cache, or loads the tools
//   run.bundle        the service in one file, plain ASCII, wrapped as a function for the loader
//   *-thread.mjs      programs of its threads
//   tools.mjs, …      all other commands and the benchmark, in shared pieces
// Native and wasm packages stay outside everywhere. With `service FOLDER`, only what the board needs, and there.
import { createHash } from 'node:crypto';
import { chmodSync, mkdirSync, rmSync, writeFileSync } from 'node:fs';
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
 * Of the log's package, what opens files and starts threads of its own, and what looks for its caller or hides fields: the
 * service gives it its way out and asks for none of that, and loading it costs a twentieth of the start.
 */
const called = {
  'node:os': 'exports.hostname = () => "";',
  './lib/caller': 'module.exports = () => [];',
};
const ownWayOut = {
  name: 'own way out',
  setup(build) {
    const unused =
      /^(node:os|sonic-boom|on-exit-leak-free|worker_threads|(\.|\.\/lib)\/(transport|multistream|caller|redaction))$/;
    build.onResolve({ filter: unused }, ({ path, importer }) =>
      /[\\/]pino[\\/]/.test(importer) ? { path, namespace: 'left-out' } : undefined,
    );
    build.onLoad({ filter: /.*/, namespace: 'left-out' }, ({ path }) => ({
      contents:
        called[path] ??
        `module.exports = class { constructor() { throw new Error(${JSON.stringify(`left out of the service: ${path}`)}); } };`,
    }));
  },
};

/** Reading and checking settings is a file of its own: later starts know their settings. */
const checkerApart = {
  name: 'checker apart',
  setup(build) {
    build.onResolve({ filter: /[\\/]settle\.ts$/ }, ({ kind }) =>
      kind === 'dynamic-import' ? { path: './settle.cjs', external: true } : undefined,
    );
  },
};

/**
 * Modules of node that aren't there from the beginning are loaded when something of them is first used. At its end the
 * bundle names its content and the checker's, so that what another one cached is known.
 */
const finish = (text, checker) => {
  const finished = text.replace(/\b(import_\w+)=require\("(node:(?!fs"|path")[^"]+)"\)/g, '$1=later("$2")');
  return `${finished}//${createHash('sha256').update(finished).update(checker).digest('hex')}\n`;
};

const asFunction = {
  banner: {
    js: `(function(exports,require,module,__filename,__dirname,programName){
const moduleFile={get url(){return require("node:url").pathToFileURL(__filename).href}};
const later=name=>new Proxy({},{get:(_,key)=>require(name)[key]});`,
  },
  footer: { js: '})' },
};

/** The loader, and the service that `entry` starts. */
export const buildService = async (entry, folder) => {
  mkdirSync(folder, { recursive: true });
  const small = {
    ...shared,
    format: 'cjs',
    // The other form of a package may call its own parts in a way that can't be followed.
    mainFields: ['module', 'main'],
    minifyWhitespace: true,
    minifySyntax: true,
    lineLimit: 120,
    write: false,
  };
  const [checker, service] = await Promise.all([
    build({ ...small, entryPoints: ['src/config/settle.ts'] }),
    build({
      ...small,
      ...asFunction,
      entryPoints: [entry],
      external: ['koffi', 'epoll', 'onoff', 'serialport'],
      plugins: [ownWayOut, checkerApart],
      // An import that a script can't do, but `require`.
      supported: { 'dynamic-import': false },
      define: {
        'import.meta.url': 'moduleFile.url',
        'import.meta.filename': '__filename',
        'import.meta.program': 'programName',
      },
    }),
    build({
      ...shared,
      entryPoints: ['src/loader.ts'],
      outfile: `${folder}/slipshutter.cjs`,
      format: 'cjs',
      external: ['./tools.mjs'],
      banner: { js: '#!/usr/bin/env node' },
    }),
  ]);
  const textOf = ({ outputFiles: [{ text }] }) => text;
  writeFileSync(`${folder}/settle.cjs`, textOf(checker));
  writeFileSync(`${folder}/run.bundle`, finish(textOf(service), textOf(checker)));
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
