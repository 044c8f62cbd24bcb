// Bundles what runs inside the guest into a folder: usage: node build.mjs OUTDIR
import { build } from 'esbuild';
import { buildModules } from '../../../src/bundle.mjs';

const here = path => new URL(path, import.meta.url).pathname;
await build({
  entryPoints: {
    lines: here('lines.ts'),
    camera: here('camera.ts'),
    printers: here('printers.ts'),
    'usb-webcam-run': here('usb-webcam-run.ts'),
    'usb-webcam-thread': here('usb-webcam-thread.ts'),
    supervisor: here('../../../src/linux/supervisor-thread.ts'),
  },
  outdir: process.argv[2],
  outExtension: { '.js': '.mjs' },
  bundle: true,
  format: 'esm',
  platform: 'node',
  target: 'node20.19',
  alias: { vitest: here('suite.ts') },
  external: ['koffi', 'epoll', 'onoff', 'serialport', '@cwasm/jpeg-turbo', 'pino'],
  logLevel: 'warning',
});
// The tools beside them, in pieces as in the package.
await buildModules(
  {
    tools: here('../../../src/cli/main.ts'),
    'supervisor-thread': here('../../../src/linux/supervisor-thread.ts'),
    'darkroom-thread': here('../../../src/linux/darkroom-thread.ts'),
  },
  `${process.argv[2]}/../tools`,
);
