import { readdirSync, readFileSync, rmSync, symlinkSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import { Worker } from 'node:worker_threads';

export const product = 'Webcam of the tests';
/** Where it is, whatever number it has: as by a udev rule. */
export const usbWebcamDevice = '/tmp/usb-webcam';

export interface UsbWebcamSetup {
  widthPx: number;
  heightPx: number;
  framesPerSecond: number;
  /** Frames, over and over. */
  jpegs: Uint8Array[];
}

const find = (): string | null => {
  const folder = '/sys/class/video4linux';
  const text = (file: string) => {
    try {
      return readFileSync(file, 'utf8').trim();
    } catch {
      // Pulled out meanwhile.
      return '';
    }
  };
  const name = readdirSync(folder).find(
    one => text(`${folder}/${one}/name`).startsWith(product) && text(`${folder}/${one}/index`) === '0',
  );
  return name === undefined ? null : `/dev/${name}`;
};

/** A webcam that can be plugged in; see `usb-webcam-thread.ts`. */
export const createUsbWebcam = (setup: UsbWebcamSetup) => {
  const thread = new Worker(new URL('./usb-webcam-thread.mjs', import.meta.url), { workerData: setup });
  const name = (): boolean => {
    const device = find();
    rmSync(usbWebcamDevice, { force: true });
    if (device !== null) symlinkSync(device, usbWebcamDevice);
    return device !== null;
  };
  const naming = setInterval(name, 100);
  const cell = new Int32Array(new SharedArrayBuffer(4));
  const tell = (what: 'plug' | 'unplug' | 'spoil' | 'mend') => thread.postMessage(what);
  return {
    plug: () => tell('plug'),
    /** Comes back when the kernel has seen it. */
    unplug() {
      tell('unplug');
      while (name()) Atomics.wait(cell, 0, 0, 10);
    },
    untilThere: async () => {
      while (!name()) await sleep(20);
    },
    spoil: (spoilt: boolean) => tell(spoilt ? 'spoil' : 'mend'),
    async end() {
      clearInterval(naming);
      await thread.terminate();
    },
  };
};
