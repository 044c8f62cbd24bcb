import { readdirSync, readFileSync, rmSync, symlinkSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import { Worker } from 'node:worker_threads';
import { encodeJpeg } from '../../../sim/mjpeg.ts';

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

export const barCount = 8;
/** What bar `i` shows, the brightest first: full-range luma. */
export const barLuma = (i: number): number => 255 - 32 * i;
/** Upright bars of equal width. Many webcams leave the usual Huffman tables out. */
export const barsAsJpeg = (widthPx: number, heightPx: number, huffmanTables: boolean): Uint8Array => {
  const luma = Uint8Array.from({ length: widthPx * heightPx }, (_, i) =>
    barLuma(Math.floor(((i % widthPx) * barCount) / widthPx)),
  );
  return encodeJpeg(luma, widthPx, heightPx, { cb: 128, cr: 128 }, { huffmanTables });
};

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
  let named: string | null = null;
  rmSync(usbWebcamDevice, { force: true });
  /** Whether it is there. */
  const name = (): boolean => {
    const device = find();
    if (device === named) return device !== null;
    named = device;
    rmSync(usbWebcamDevice, { force: true });
    if (device !== null) symlinkSync(device, usbWebcamDevice);
    return device !== null;
  };
  let naming: NodeJS.Timeout | undefined;
  const cell = new Int32Array(new SharedArrayBuffer(4));
  const tell = (what: 'plug' | 'unplug' | 'spoil' | 'mend') => thread.postMessage(what);
  return {
    plug() {
      clearInterval(naming);
      naming = setInterval(name, 100);
      tell('plug');
    },
    /** Comes back when the kernel has seen it. */
    unplug() {
      clearInterval(naming);
      tell('unplug');
      while (name()) Atomics.wait(cell, 0, 0, 10);
    },
    untilThere: async () => {
      while (!name()) await sleep(20);
    },
    spoil: (spoilt: boolean) => tell(spoilt ? 'spoil' : 'mend'),
  };
};
