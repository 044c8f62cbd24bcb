// Loaded before the program (node --require): once the coil's supervisor was told of a pulse, and the program has driven the
// line, the event loop stands still for two seconds.
const { notify } = Atomics;
let stalled = false;
Atomics.notify = (...told) => {
  const woken = notify(...told);
  if (stalled) return woken;
  stalled = true;
  process.nextTick(() => {
    console.error('stalling');
    Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, 2000);
  });
  return woken;
};
