import { spawnSync } from 'node:child_process';
import {
  closeSync,
  constants,
  existsSync,
  openSync,
  readFileSync,
  readSync,
  rmSync,
  writeFileSync,
  writeSync,
} from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import koffi from 'koffi';
import { SerialPort } from 'serialport';
import { describe, expect, it } from 'vitest';
import { processHost } from '../../../src/linux/inlet.ts';
import { iowr } from '../../../src/linux/ioctl.ts';
import { codeOf } from '../../../src/linux/native.ts';
import { createFilePrinter } from '../../../src/linux/printer/file.ts';
import { createSerialPrinter, type Port } from '../../../src/linux/printer/serial.ts';
import { createUsbPrinter } from '../../../src/linux/printer/usb.ts';
import { createTiming } from '../../../src/linux/timing.ts';
import type { Printer, PrinterSaid } from '../../../src/parts/printer.ts';
import { type PrinterBench, printerContract } from '../../contracts/printer.ts';
import { createPty } from './pty.ts';
import { runAll } from './suite.ts';

const timing = createTiming();

interface Gadget {
  name: 'serial' | 'printer';
  controller: string;
  farEnd: string;
  nearEnd: string;
}
const serial: Gadget = {
  name: 'serial',
  controller: 'dummy_udc.1',
  farEnd: '/dev/ttyGS0',
  nearEnd: '/dev/ttyACM0',
};
const usb: Gadget = {
  name: 'printer',
  controller: 'dummy_udc.0',
  farEnd: '/dev/g_printer0',
  nearEnd: '/dev/usb/lp0',
};

const plug = ({ name, controller }: Gadget, plugged: boolean) => {
  const file = `/sys/kernel/config/usb_gadget/${name}/UDC`;
  if ((readFileSync(file, 'utf8').trim() !== '') !== plugged) writeFileSync(file, plugged ? controller : '\n');
};
const untilThere = async (file: string) => {
  for (let tries = 0; tries < 500 && !existsSync(file); tries++) await sleep(20);
};

/**
 * The printer's end of the cable, in the hands of the test. It is open before anything is sent: what comes to a port that
 * nobody has open is gone.
 */
const farEndOf = async (gadget: Gadget) => {
  plug(gadget, true);
  await untilThere(gadget.nearEnd);
  const buffer = Buffer.alloc(65_536);
  let received = Buffer.alloc(0);
  let fd: number | null = null;
  let plugged = true;
  const open = () => {
    if (!plugged) return;
    try {
      fd ??= openSync(gadget.farEnd, constants.O_RDWR | constants.O_NOCTTY | constants.O_NONBLOCK);
    } catch (error) {
      // Plugged in just now, and not yet noticed by the near end: what that sends is held until then.
      if (codeOf(error) !== 'ENODEV') throw error;
    }
  };
  // The kernel's printer gadget breaks its own lists when it is unbound under a reader: none must be there.
  const close = () => {
    drain();
    if (fd !== null) closeSync(fd);
    fd = null;
  };
  const drain = () => {
    try {
      for (let length = 1; fd !== null && length > 0; ) {
        length = readSync(fd, buffer);
        received = Buffer.concat([received, buffer.subarray(0, length)]);
      }
    } catch (error) {
      // Nothing there; or the near end went away.
      if (!['EAGAIN', 'EIO', 'ENODEV'].includes(codeOf(error))) throw error;
    }
  };
  open();
  if (gadget.name === 'serial') {
    const { status, stderr } = spawnSync('stty', ['-F', gadget.farEnd, 'raw', '-echo'], { encoding: 'utf8' });
    if (status !== 0) throw new Error(`stty: ${stderr}`);
  }
  const reading = setInterval(() => {
    open();
    drain();
  }, 5);
  return {
    received() {
      drain();
      return received;
    },
    answer(bytes: Uint8Array) {
      if (fd === null) throw new Error('the far end is unplugged');
      writeSync(fd, bytes);
    },
    unplug() {
      plugged = false;
      close();
      plug(gadget, false);
    },
    replug() {
      plug(gadget, true);
      plugged = true;
      open();
    },
    done() {
      clearInterval(reading);
      close();
      plug(gadget, true);
    },
  };
};

const bench = async (gadget: Gadget, printer: Printer): Promise<PrinterBench> => {
  const far = await farEndOf(gadget);
  let stop = () => {};
  return {
    ...far,
    printer: {
      ...printer,
      open(heard) {
        stop = printer.open(heard);
        return stop;
      },
    },
    pass: ms => sleep(ms),
    nowUs: processHost.monotonicUs,
    graceUs: () => 40_000,
    slow: false,
    async done() {
      stop();
      // The port closes in its own time, and is locked until then.
      await sleep(300);
      far.done();
    },
  };
};

for (const flow of ['none', 'rtscts'] as const)
  printerContract(`serial, USB port, flow control ${flow}`, () =>
    bench(
      serial,
      createSerialPrinter({
        device: serial.nearEnd,
        baud: 115_200,
        flow,
        timing,
        createPort: options => new SerialPort(options as never) as unknown as Port,
      }),
    ),
  );
const overPty = (flow: 'none' | 'xonxoff') => {
  const pty = createPty('/tmp/pty-printer');
  const printer = createSerialPrinter({
    device: pty.name,
    // None of the customary ones: any rate has to do.
    baud: 250_000,
    flow,
    timing,
    createPort: options => new SerialPort(options as never) as unknown as Port,
  });
  return { pty, printer };
};
for (const flow of ['none', 'xonxoff'] as const)
  printerContract(`serial, pseudo terminal, flow control ${flow}`, (): PrinterBench => {
    const { pty, printer } = overPty(flow);
    let stop = () => {};
    return {
      printer: {
        ...printer,
        open(heard) {
          stop = printer.open(heard);
          return stop;
        },
      },
      received: pty.received,
      answer: pty.answer,
      unplug: pty.unplug,
      replug: pty.plug,
      pass: ms => sleep(ms),
      nowUs: processHost.monotonicUs,
      graceUs: () => 40_000,
      slow: false,
      async done() {
        stop();
        await sleep(300);
        pty.done();
      },
    };
  });
describe('serial, pseudo terminal: XON and XOFF', () => {
  // The bytes of ISO/IEC 646: DC3 stops, DC1 goes on.
  it('the kernel stops at the printer’s XOFF and goes on at its XON, with no byte lost', async () => {
    const { pty, printer } = overPty('xonxoff');
    let found = false;
    const stop = printer.open(({ kind }) => {
      found ||= kind === 'found';
    });
    for (let tries = 0; tries < 500 && !found; tries++) await sleep(20);
    pty.answer(Uint8Array.of(0x13));
    await sleep(200);
    printer.write(new Uint8Array(500).fill(7));
    await sleep(500);
    expect(pty.received().length).toBe(0);
    pty.answer(Uint8Array.of(0x11));
    for (let tries = 0; tries < 500 && pty.received().length < 500; tries++) await sleep(20);
    expect([...pty.received()]).toEqual(new Array(500).fill(7));
    stop();
    await sleep(300);
    pty.done();
  });
});
printerContract('USB printer class', () => bench(usb, createUsbPrinter({ device: usb.nearEnd, timing })));
describe('USB printer class: the port’s own status', () => {
  // `linux/usb/g_printer.h`: GADGET_SET_PRINTER_STATUS takes the byte itself.
  const setStatusIoctl = iowr('g', 0x22, 1);
  const setStatus = (byte: number) => {
    const ioctl = koffi.load(null).func('int ioctl(int, unsigned long, long)');
    const fd = openSync(usb.farEnd, 'r+');
    ioctl(fd, setStatusIoctl, byte);
    closeSync(fd);
  };
  it('says paper out and error, and that they are over, while the printer itself says nothing', async () => {
    plug(usb, true);
    await untilThere(usb.nearEnd);
    const said: PrinterSaid[] = [];
    const stop = createUsbPrinter({ device: usb.nearEnd, timing }).open(what => said.push(what));
    const steps = [
      { byte: 0x18, seen: [] },
      { byte: 0x38, seen: [{ kind: 'port-status', paperOut: true, error: false }] },
      { byte: 0x18, seen: [{ kind: 'port-status', paperOut: false, error: false }] },
      { byte: 0x10, seen: [{ kind: 'port-status', paperOut: false, error: true }] },
      { byte: 0x18, seen: [{ kind: 'port-status', paperOut: false, error: false }] },
    ];
    const statuses = () => said.filter(({ kind }) => kind === 'port-status');
    const expected: unknown[] = [];
    for (const { byte, seen } of steps) {
      setStatus(byte);
      expected.push(...seen);
      if (seen.length === 0) await sleep(2500);
      for (let tries = 0; tries < 500 && statuses().length < expected.length; tries++) await sleep(20);
      expect(statuses()).toEqual(expected);
    }
    stop();
    await sleep(300);
  });
});
const file = (): PrinterBench => {
  const folder = '/tmp/file-printer';
  const path = `${folder}/printer.bin`;
  spawnSync('mkdir', ['-p', folder]);
  const printer = createFilePrinter({ path, timing });
  let stop = () => {};
  return {
    printer: {
      ...printer,
      open(heard) {
        stop = printer.open(heard);
        return stop;
      },
    },
    answer() {},
    received: () => (existsSync(path) ? readFileSync(path) : new Uint8Array(0)),
    unplug: () => void spawnSync('rm', ['-rf', folder]),
    replug: () => void spawnSync('mkdir', ['-p', folder]),
    pass: ms => sleep(ms),
    nowUs: processHost.monotonicUs,
    graceUs: () => 0,
    slow: false,
    done() {
      stop();
      rmSync(path, { force: true });
    },
  };
};
printerContract('file', file, { unplugged: 'a file has no plug', hears: 'a file says nothing' });

await runAll(process.argv[2]);
process.exit(0);
