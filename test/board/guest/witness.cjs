// How late this kernel wakes a thread that asked to be woken: usage: node witness.cjs FILE. An emulated processor stands
// still while its host has no time for it; by that much a limit that was kept looks overstepped. FILE holds the worst so far, ms.
const { writeFileSync } = require('node:fs');
const cell = new Int32Array(new SharedArrayBuffer(4));
const askedMs = 5;
let worstMs = 0;
writeFileSync(process.argv[2], '0');
for (;;) {
  const before = process.hrtime.bigint();
  Atomics.wait(cell, 0, 0, askedMs);
  const lateMs = Number(process.hrtime.bigint() - before) / 1e6 - askedMs;
  if (lateMs <= worstMs) continue;
  worstMs = lateMs;
  writeFileSync(process.argv[2], worstMs.toFixed(1));
}
