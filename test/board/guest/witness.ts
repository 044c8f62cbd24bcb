import { spawn } from 'node:child_process';
import { existsSync, readFileSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';

const file = '/tmp/witness-of-parts';

/** Starts `witness.cjs`, beside this program, in a process of its own. */
export const startWitness = async () => {
  const script = new URL('./witness.cjs', import.meta.url).pathname;
  const child = spawn(process.execPath, [script, file], { stdio: ['ignore', 'inherit', 'inherit'] });
  while (!existsSync(file)) await sleep(20);
  return {
    /** How late the kernel woke a bare thread at worst, on any processor, after this moment of CLOCK_MONOTONIC; µs. */
    worstUs: (sinceUs: number): number =>
      readFileSync(file, 'utf8')
        .split('\n')
        .map(line => line.split(' ').map(Number))
        .filter(([atS, lateMs]) => lateMs > 0 && atS * 1e6 > sinceUs)
        .reduce((worst, [, lateMs]) => Math.max(worst, lateMs * 1000), 0),
    stop: () => void child.kill('SIGKILL'),
  };
};
