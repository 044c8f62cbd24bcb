// How late this kernel wakes a thread that asked to be woken, on each of its processors: usage: node witness.cjs FILE. An
// emulated processor stands still while its host has no time for it; by that much a limit that was kept looks overstepped.
// FILE gets a line for each wake that was late: when by CLOCK_MONOTONIC (s), and how late (ms).
const { appendFileSync, writeFileSync } = require('node:fs');
const { cpus } = require('node:os');
const { isMainThread, parentPort, Worker, workerData } = require('node:worker_threads');

const askedMs = 5;
const worthTellingMs = 3;

if (isMainThread) {
  writeFileSync(process.argv[2], '');
  for (const [processor] of cpus().entries())
    new Worker(__filename, { workerData: processor, trackUnmanagedFds: false }).on('message', line =>
      appendFileSync(process.argv[2], line),
    );
} else {
  // sched_setaffinity(2), of this thread.
  const pin = require('koffi').load(null).func('int sched_setaffinity(int, size_t, void *)');
  if (pin(0, 8, new Uint8Array(new BigUint64Array([1n << BigInt(workerData)]).buffer)) !== 0)
    throw new Error('not pinned');
  const cell = new Int32Array(new SharedArrayBuffer(4));
  for (;;) {
    const before = process.hrtime.bigint();
    Atomics.wait(cell, 0, 0, askedMs);
    const now = process.hrtime.bigint();
    const lateMs = Number(now - before) / 1e6 - askedMs;
    if (lateMs > worthTellingMs)
      parentPort.postMessage(`${(Number(now / 1000n) / 1e6).toFixed(6)} ${lateMs.toFixed(1)}\n`);
  }
}
