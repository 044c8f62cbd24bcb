// Loaded before the program (node --require): once the coil is on, the event loop stands still for two seconds.
const { readFileSync } = require('node:fs');
const file = '/sys/devices/platform/gpio-sim.0/gpiochip0/sim_gpio27/value';
const timer = setInterval(() => {
  if (readFileSync(file, 'latin1')[0] !== '1') return;
  clearInterval(timer);
  console.error('stalling');
  Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, 2000);
}, 1);
timer.unref();
