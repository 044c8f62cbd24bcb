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

/** Every line is there once and in its order, or a line says how many were dropped in its place. */
const expectAll = (text: string, lines: number): { dropped: number } => {
  let next = 0;
  let dropped = 0;
  for (const line of text.trimEnd().split('\n')) {
    const missing = /^dropped (\d+)$/.exec(line);
    if (missing) {
      dropped += Number(missing[1]);
      next += Number(missing[1]);
    } else expect(line).toBe(`line ${next++}`);
  }
  expect(next).toBe(lines);
  return { dropped };
};

/** A line a turn, past the moment when the stream takes over. */
const slowly = `
import { createOutlet } from './src/console/outlet.ts';
import { openWay } from './src/console/way.ts';
const outlet = createOutlet({ way: openWay(1, 20) });
const startedMs = performance.now();
let i = 0;
const timer = setInterval(() => {
  outlet.write('line ' + i++ + '\\n');
  if (performance.now() - startedMs < 100) return;
  clearInterval(timer);
  process.stderr.write(i + ' ' + process.moduleLoadList.includes('NativeModule net') + '\\n');
}, 1);
`;

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
    const { dropped } = expectAll(text, 20_000);
    expect(dropped).toBe(Number(/\d+/.exec(said)?.[0]));
    expect(dropped).toBeGreaterThan(0);
  });

  it('that is a socket which one that was killed left non-blocking and full is waited for as well', async () => {
    const before = `
const full = new (require('node:net').Socket)({ fd: 1, readable: false });
while (full.write('x'.repeat(1000)));
process.kill(process.pid, 'SIGKILL');`;
    const both = `
require('node:child_process').spawnSync(process.execPath, ['-e', ${JSON.stringify(before)}], { stdio: 'inherit' });
${program}`;
    const child = spawn(process.execPath, ['-e', both], { stdio: ['ignore', 'pipe', 'pipe'] });
    for await (const chunk of child.stderr) if (String(chunk).includes('\n')) break;
    let text = '';
    child.stdout.on('data', chunk => {
      text += chunk;
    });
    await once(child, 'close');
    const lines = text.replace(/^x+/, '');
    expect(lines.length).toBeLessThan(text.length);
    expectAll(lines, 20_000);
  });

  it('that is a socket which is full from the beginning doesn’t hold up the end', async () => {
    // One that ends by itself leaves it blocking: node sets that back.
    const before = `
const full = new (require('node:net').Socket)({ fd: 1, readable: false });
while (full.write('x'.repeat(1000)));
process.reallyExit(0);`;
    const both = `
require('node:child_process').spawnSync(process.execPath, ['-e', ${JSON.stringify(before)}], { stdio: 'inherit' });
${program.replace('if (outlet.waitingBytes > 0 || outlet.dropped > 0) return;', '')}`;
    const child = spawn(process.execPath, ['-e', both], { stdio: ['ignore', 'pipe', 'inherit'] });
    // Nothing is read: without that it would never come.
    const [code] = await once(child, 'exit');
    expect(code).toBe(0);
    child.stdout.destroy();
  });

  it('that is a socket is handed from the threads to the stream without a line lost', async () => {
    const [{ text: code }] = buildSync({
      stdin: { contents: slowly, resolveDir: root, loader: 'ts' },
      bundle: true,
      platform: 'node',
      format: 'cjs',
      write: false,
    }).outputFiles;
    const child = spawn(process.execPath, ['-e', code], { stdio: ['ignore', 'pipe', 'pipe'] });
    let said = '';
    let text = '';
    child.stderr.on('data', chunk => {
      said += chunk;
    });
    child.stdout.on('data', chunk => {
      text += chunk;
    });
    await once(child, 'close');
    const [lines, handedOver] = said.trim().split(' ');
    expect(handedOver).toBe('true');
    expectAll(text, Number(lines));
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
