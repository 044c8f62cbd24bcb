// Takes every figure that the documents quote, in one sitting: the benchmarks, the start-up, parties of faults drawn from the
// commit, with `--board` also the emulated board with its thirty power cuts. Writes what was printed to test/bench/figures.md.
// usage: node test/bench/figures.mjs [--board] [--smoke]     --smoke: short runs, written to out/figures.md
import { execFileSync, spawn } from 'node:child_process';
import { mkdirSync, renameSync, writeFileSync } from 'node:fs';
import { cpus } from 'node:os';
import { dirname } from 'node:path';
import { parseArgs } from 'node:util';

const { values } = parseArgs({ options: { board: { type: 'boolean' }, smoke: { type: 'boolean' } } });
process.chdir(new URL('../..', import.meta.url).pathname);
const git = (...args) => execFileSync('git', args, { encoding: 'utf8' }).trim();

const commit = git('rev-parse', 'HEAD');
const changed =
  git('status', '--porcelain', '--untracked-files=no') === '' ? '' : ', with changes that aren’t committed';
const sittings = [
  ['bench', ...(values.smoke ? ['--smoke'] : [])],
  ['bench:start', ...(values.smoke ? ['--runs', '5'] : [])],
  ['parties', '--seeds', values.smoke ? '10' : '400', '--for', commit],
  ...(values.board ? [['test:board'], ['test:board:cuts']] : []),
];

/** Runs a script of package.json; shows what it says as it comes and resolves to that. */
const run = ([script, ...args]) =>
  new Promise((resolve, reject) => {
    const child = spawn('npm', ['run', '--silent', script, '--', ...args], {
      env: { ...process.env, NO_COLOR: '1' },
      stdio: ['ignore', 'pipe', 'inherit'],
    });
    let said = '';
    child.stdout.setEncoding('utf8').on('data', text => {
      said += text;
      process.stdout.write(text);
    });
    child.once('error', reject).once('close', code => resolve({ said, code }));
  });

const file = values.smoke ? 'out/figures.md' : 'test/bench/figures.md';
const text = [
  '# Figures',
  '',
  `Written by \`npm run figures\` on ${new Date().toISOString().slice(0, 16).replace('T', ' ')} UTC, Node ${process.version}, ` +
    `${cpus().length} cores, commit ${commit.slice(0, 12)}${changed}. Ratios are to what ran beside it in the same run.`,
];
let failed = 0;
for (const sitting of sittings) {
  const { said, code } = await run(sitting);
  if (code !== 0) failed++;
  text.push(
    '',
    `## npm run ${sitting
      .filter(word => word !== commit)
      .join(' ')
      .replace(' --for', '')}`,
    '',
  );
  text.push('```', said.trim(), '```', ...(code === 0 ? [] : ['', `It ended with exit code ${code}.`]));
}
mkdirSync(dirname(file), { recursive: true });
writeFileSync(`${file}.part`, `${text.join('\n')}\n`);
renameSync(`${file}.part`, file);
process.stdout.write(`\n${file}\n`);
process.exitCode = failed === 0 ? 0 : 1;
