/**
 * The coil's supervisor, on a thread of its own: it waits without cost until the coil is energised, and lets the line
 * go at the deadline unless the program has done so before. It needs nothing of the program's event loop.
 */
import { closeSync, openSync, writeSync } from 'node:fs';
import { workerData } from 'node:worker_threads';
import { setValuesIoctl, valuesOf } from './gpio/uapi.ts';
import { needLibc } from './native.ts';
import { cell, type SupervisorData, sharedCells } from './supervisor.ts';

const { shared, letGo } = workerData as SupervisorData;
const { cells, deadlineUs, actedAtUs } = sharedCells(shared);
const nowUs = () => Number(process.hrtime.bigint() / 1000n);

const openLine = (): { fd: number; release(): void } => {
  if (letGo.by === 'sysfs') {
    const fd = openSync(letGo.file, 'w');
    return { fd, release: () => void writeSync(fd, letGo.inactive, 0) };
  }
  const libc = needLibc('the coil’s supervisor');
  // Of its own, so that the number can't come to mean another file.
  const fd = libc.dup(letGo.fd);
  const inactive = valuesOf(false);
  return { fd, release: () => void libc.ioctl(fd, setValuesIoctl, inactive) };
};

const line = openLine();
Atomics.store(cells, cell.up, 1);
for (;;) {
  const pulse = Atomics.load(cells, cell.pulse);
  if (pulse < 0) break;
  if (pulse % 2 === 0) {
    Atomics.wait(cells, cell.pulse, pulse);
    continue;
  }
  const leftMs = (deadlineUs[0] - nowUs()) / 1000;
  if (leftMs > 0 && Atomics.wait(cells, cell.pulse, pulse, leftMs) !== 'timed-out') continue;
  if (Atomics.load(cells, cell.pulse) !== pulse) continue;
  line.release();
  actedAtUs[0] = nowUs();
  Atomics.add(cells, cell.acted, 1);
  Atomics.wait(cells, cell.pulse, pulse);
}
closeSync(line.fd);
Atomics.store(cells, cell.up, 0);
Atomics.notify(cells, cell.up);
