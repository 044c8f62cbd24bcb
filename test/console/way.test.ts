import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { buildSync } from 'esbuild';
import { describe, expect, it } from 'vitest';

const root = new URL('../..', import.meta.url).pathname;

/** A program that writes to its standard output by way and outlet: the child's end of what `stdio` says. */
const script = `
import { createOutlet } from './src/console/outlet.ts';
import { openWay } from './src/console/way.ts';
const outlet = createOutlet({ way: openWay(), onDropped(lines) { outlet.lastLevel = 40; outlet.write('dropped ' + lines + '\\n'); } });
for (let i = 0; i < 20000; i++) outlet.write('line ' + i + '\\n');
process.stderr.write('written, ' + outlet.dropped + ' dropped\\n');
const timer = setInterval(() => {
  if (outlet.waitingBytes > 0 || outlet.dropped > 0) return;
  clearInterval(timer);
  outlet.close();
}, 5);
`;
const [{ text: program }] = buildSync({
  stdin: { contents: script, resolveDir: root, loader: 'ts' },
  bundle: true,
  platform: 'node',
  format: 'cjs',
  write: false,
}).outputFiles;

describe.skipIf(process.platform !== 'linux')('standard output (pending where this is not Linux)', () => {
  // A pipe that Node makes for a child is a pair of unix sockets: what a service manager's log is, too.
  it('that is a socket doesn’t hold the program up while nobody reads', async () => {
    const child = spawn(process.execPath, ['-e', program], { stdio: ['ignore', 'pipe', 'pipe'] });
    // Nothing is read from its output before it has written everything.
    let said = '';
    for await (const chunk of child.stderr) {
      said += chunk;
      if (said.includes('\n')) break;
    }
    expect(said).toMatch(/^written, \d+ dropped/);
    let text = '';
    child.stdout.on('data', chunk => {
      text += chunk;
    });
    await once(child, 'close');
    let next = 0;
    let dropped = 0;
    for (const line of text.trimEnd().split('\n')) {
      const missing = /^dropped (\d+)$/.exec(line);
      if (missing) {
        dropped += Number(missing[1]);
        next += Number(missing[1]);
      } else expect(line).toBe(`line ${next++}`);
    }
    expect(next).toBe(20_000);
    expect(dropped).toBe(Number(/\d+/.exec(said)?.[0]));
    expect(dropped).toBeGreaterThan(0);
  });

  it('that is gone ends nothing', async () => {
    const child = spawn(process.execPath, ['-e', program.replace('dropped > 0) return', 'dropped > 1e9) return')], {
      stdio: ['ignore', 'pipe', 'pipe'],
    });
    child.stdout.destroy();
    let said = '';
    child.stderr.on('data', chunk => {
      said += chunk;
      if (said.includes('\n')) child.kill();
    });
    const [, signal] = await once(child, 'exit');
    expect(said).toMatch(/^written, \d+ dropped/);
    expect(signal).toBe('SIGTERM');
  });
});
