// How long the service takes from spawn to the log line `ready`, what it keeps in memory and what it costs at rest, each
// beside a bare `node -e 0` in the same run. The parts are there at once, so what is measured is the program.
// usage: node test/bench/start.mjs [--runs N] [--check]     --check: exit code 3 where a goal is missed
import { spawn } from 'node:child_process';
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { parseArgs } from 'node:util';
import { buildService } from '../../src/bundle.mjs';

const { values } = parseArgs({ options: { runs: { type: 'string' }, check: { type: 'boolean' } } });
const runs = Number(values.runs ?? 40);
const goals = { startRatio: 1.35, rssMb: 20, idlePercent: 1 };

process.chdir(new URL('../..', import.meta.url).pathname);
// Inside the project, so that the packages outside the bundle are found.
const folder = mkdtempSync(join(existsSync('dist') ? 'dist' : tmpdir(), 'bench-start-'));
// In memory: how quick this machine's disk syncs is not the program's doing.
const album = mkdtempSync(join(existsSync('/dev/shm') ? '/dev/shm' : tmpdir(), 'bench-album-'));
process.on('exit', () => {
  for (const made of [folder, album]) rmSync(made, { recursive: true, force: true });
});
await buildService('test/bench/start-entry.ts', folder);
const config = join(folder, 'config.json');
writeFileSync(config, JSON.stringify({ album: { folder: album } }));

const program = [join(folder, 'slipshutter.cjs'), 'run', '--config', config];
const env = { ...process.env, CACHE_DIRECTORY: join(folder, 'cache') };
const nowMs = () => Number(process.hrtime.bigint()) / 1e6;
const statusKb = (pid, name) =>
  Number(new RegExp(`^${name}:\\s+(\\d+)`, 'm').exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1] ?? Number.NaN);
const cpuMs = pid => {
  const fields = readFileSync(`/proc/${pid}/stat`, 'utf8').split(') ')[1].split(' ');
  return (Number(fields[11]) + Number(fields[12])) * 10;
};

/** Starts the service; resolves at `ready`. */
const start = async (extra = {}) => {
  const beganMs = nowMs();
  const child = spawn(process.execPath, program, { env: { ...env, ...extra }, stdio: ['ignore', 'pipe', 'inherit'] });
  let said = '';
  for await (const bytes of child.stdout) {
    said += bytes;
    if (said.includes('"event":"ready"')) break;
  }
  return { child, tookMs: nowMs() - beganMs };
};
const stop = child =>
  new Promise(resolve => {
    child.once('exit', resolve);
    child.kill('SIGKILL');
  });
/** From spawn to the end of a program that does nothing. */
const bare = () =>
  new Promise(resolve => {
    const beganMs = nowMs();
    spawn(process.execPath, ['-e', '0'], { stdio: 'ignore' }).once('exit', () => resolve(nowMs() - beganMs));
  });
/** Memory of a program that does nothing and stays. */
const bareRssKb = async () => {
  const child = spawn(process.execPath, ['-e', 'setInterval(() => {}, 1e6)'], { stdio: 'ignore' });
  await sleep(1000);
  const kb = statusKb(child.pid, 'VmRSS');
  await stop(child);
  return kb;
};
const middle = numbers => [...numbers].sort((a, b) => a - b)[Math.floor(numbers.length / 2)];
const least = numbers => Math.min(...numbers);

/** One start that leaves something for the next: first its checked settings, then its code cache. */
const startOnce = async kept => {
  const { child } = await start();
  const isThere = () =>
    existsSync(env.CACHE_DIRECTORY) &&
    readdirSync(env.CACHE_DIRECTORY).some(
      name => name.startsWith(kept) && /^[\w.-]+-[\w]+$/.test(name) && !name.endsWith('.new'),
    );
  for (let waited = 0; waited < 300 && !isThere(); waited++) await sleep(100);
  await sleep(300);
  await stop(child);
};
await startOnce('settings-');
await startOnce('run-');

const times = { bare: [], cached: [], compiled: [] };
for (let i = 0; i < runs; i++) {
  times.bare.push(await bare());
  const cached = await start();
  times.cached.push(cached.tookMs);
  await stop(cached.child);
  if (i % 4 === 0) {
    const compiled = await start({ CACHE_DIRECTORY: '/proc/none' });
    times.compiled.push(compiled.tookMs);
    await stop(compiled.child);
  }
}

const { child } = await start();
await sleep(3000);
const restMs = 10_000;
const before = cpuMs(child.pid);
await sleep(restMs);
const idlePercent = ((cpuMs(child.pid) - before) / restMs) * 100;
const rssMb = (statusKb(child.pid, 'VmRSS') - (await bareRssKb())) / 1024;
await stop(child);

const ratios = { middle: middle(times.cached) / middle(times.bare), least: least(times.cached) / least(times.bare) };
const line = (what, value, goal) => console.log(`${what.padEnd(58)} ${value}${goal ? `   (goal: ${goal})` : ''}`);
const ms = value => `${value.toFixed(1)} ms`;
console.log(`start of the service, ${runs} starts each, node ${process.version}\n`);
line('bare node -e 0, spawn to end: least, middle', `${ms(least(times.bare))}, ${ms(middle(times.bare))}`);
line(
  'service from its cache, spawn to ready: least, middle',
  `${ms(least(times.cached))}, ${ms(middle(times.cached))}`,
);
line('service without cache: least', ms(least(times.compiled)));
line('ratio of the least times', ratios.least.toFixed(3), `≤ ${goals.startRatio}`);
line('ratio of the middle times', ratios.middle.toFixed(3));
line('memory over bare node, at rest', `${rssMb.toFixed(1)} MB`, `≤ ${goals.rssMb} MB`);
line('processor at rest, webcam streaming', `${idlePercent.toFixed(2)} %`, `≤ ${goals.idlePercent} %`);
const missed = ratios.least > goals.startRatio || rssMb > goals.rssMb || idlePercent > goals.idlePercent;
process.exitCode = values.check && missed ? 3 : 0;
