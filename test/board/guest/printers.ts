import { spawn, spawnSync } from 'node:child_process';
import { existsSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import { SerialPort } from 'serialport';
import { processHost } from '../../../src/linux/inlet.ts';
import { createFilePrinter } from '../../../src/linux/printer/file.ts';
import { createSerialPrinter, type Port } from '../../../src/linux/printer/serial.ts';
import { createUsbPrinter } from '../../../src/linux/printer/usb.ts';
import { createTiming } from '../../../src/linux/timing.ts';
import type { Printer } from '../../../src/parts/printer.ts';
import { type PrinterBench, printerContract } from '../../contracts/printer.ts';
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

/** The printer's end of the cable, in the hands of the test. */
const farEndOf = async (gadget: Gadget) => {
  plug(gadget, true);
  await untilThere(gadget.nearEnd);
  if (gadget.name === 'serial') spawnSync('stty', ['-F', gadget.farEnd, 'raw', '-echo']);
  const file = `/tmp/${gadget.name}-${Date.now()}`;
  writeFileSync(file, '');
  const script = `while :; do cat ${gadget.farEnd} >>${file}; sleep 0.05; done`;
  const startReader = () => spawn('sh', ['-c', script], { stdio: 'ignore', detached: true });
  let reader = startReader();
  const stopReader = () => {
    try {
      process.kill(-reader.pid!, 'SIGKILL');
    } catch {
      // Stopped already.
    }
  };
  return {
    received: () => readFileSync(file),
    answer(bytes: Uint8Array) {
      // The gadget's printer can be open once only.
      stopReader();
      for (let tries = 0; ; tries++) {
        try {
          writeFileSync(gadget.farEnd, bytes);
          break;
        } catch (error) {
          if (tries > 200) throw error;
          spawnSync('sleep', ['0.01']);
        }
      }
      reader = startReader();
    },
    // The kernel's printer gadget breaks its own lists when it is unbound under a reader: none must be there.
    unplug() {
      stopReader();
      plug(gadget, false);
    },
    replug() {
      plug(gadget, true);
      stopReader();
      reader = startReader();
    },
    done() {
      stopReader();
      rmSync(file);
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
    graceUs: 40_000,
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
printerContract('USB printer class', () => bench(usb, createUsbPrinter({ device: usb.nearEnd, timing })));
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
    graceUs: 0,
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
