// Bundles the parties into the tool cache and runs them.
import { spawnSync } from 'node:child_process';
import { bundleParties } from './bundle.mjs';

const outdir = 'node_modules/.cache/parties';
await bundleParties(outdir);
const { status } = spawnSync(process.execPath, [`${outdir}/run.mjs`, ...process.argv.slice(2)], { stdio: 'inherit' });
process.exitCode = status ?? 1;
