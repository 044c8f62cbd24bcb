import { createAlbum } from '../album/album.ts';
import type { Profile } from '../config/profile.ts';
import type { Config } from '../config/schema.ts';
import type { Log } from '../console/vocabulary.ts';
import type { Button } from '../parts/button.ts';
import type { Clock, Inlet } from '../parts/clock.ts';
import { Fault, isFault } from '../parts/fault.ts';
import type { Lamp } from '../parts/lamp.ts';
import type { Motor } from '../parts/motor.ts';
import type { Printer } from '../parts/printer.ts';
import type { Rig } from '../parts/rig.ts';
import type { Shutter } from '../parts/shutter.ts';
import { createButton } from './button.ts';
import { createThreadDarkroom } from './darkroom.ts';
import { createDisk } from './disk.ts';
import type { Gpio, LineId, OutputLine } from './gpio/lines.ts';
import { openGpio } from './gpio/open.ts';
import { createLamp, ledLight, lineLight } from './lamp.ts';
import { createMotor } from './motor.ts';
import { optionalPackage } from './native.ts';
import { noticeHangup } from './port-hangup.ts';
import { createFilePrinter } from './printer/file.ts';
import { createSerialPrinter, type Port } from './printer/serial.ts';
import { keepSpaced } from './printer/spaced.ts';
import { createUsbPrinter } from './printer/usb.ts';
import { createShutter } from './shutter.ts';
import { createSupervisor } from './supervisor.ts';
import { createSupply } from './supply.ts';
import { threadFile } from './threads.ts';
import { createTiming, type Timing } from './timing.ts';
import { openCapture } from './v4l2/capture.ts';
import { createWebcam } from './v4l2/webcam.ts';
import { watchFd } from './watch.ts';

export interface BoardRigOptions {
  config: Config;
  profile: Profile;
  clock: Clock;
  inlet: Inlet;
  fromMonotonicUs(stampUs: number): number;
  log: Log;
}

export interface BoardRig {
  /** The parts as they are; their callbacks still have to go through the inlet. */
  rig: Rig;
  /** Starts what the first picture will need, once there is time. */
  warmUp(): void;
  /** Lets go of every line and device. Twice is harmless. */
  close(): void;
}

/** Without a frame to wait for, a device that can't be waited on is asked this often. */
const askEveryMs = 5;

const nothing = () => {};

const createPrinter = ({ printer }: Config, timing: Timing): Printer => {
  switch (printer.link) {
    case 'usb':
      return createUsbPrinter({ device: printer.device, timing });
    case 'file':
      return createFilePrinter({ path: printer.device, timing });
    case 'serial':
      return createSerialPrinter({
        device: printer.device,
        baud: printer.baud,
        flow: printer.flow,
        timing,
        createPort(options) {
          const serialport = optionalPackage<typeof import('serialport')>('serialport');
          if (!serialport)
            throw new Fault(
              'part-missing',
              "a serial printer needs the package 'serialport', which isn't installed or doesn't load on this board",
              'npm install serialport',
            );
          return noticeHangup(new serialport.SerialPort(options as never)) as unknown as Port;
        },
      });
  }
};

/** All parts of the board as it is configured. Parts that can't be had are said and left out, but for the button: without it there is no camera. */
export const createBoardRig = (options: BoardRigOptions): BoardRig => {
  const { config, profile, clock, inlet, fromMonotonicUs, log } = options;
  const timing = createTiming();
  const closers: (() => void)[] = [];
  let gpio: Gpio | null = null;

  const lines = (): Gpio => {
    if (gpio) return gpio;
    gpio = openGpio(config.gpio.access, config.gpio.chip);
    closers.push(gpio.close);
    return gpio;
  };
  const output = (line: LineId, use: string, activeLow = false): OutputLine => lines().output(line, { activeLow, use });
  /** A part that can't be had is reported; `without` stands in for it. */
  const or = <T>(part: string, make: () => T, without: (why: Fault) => T): T => {
    try {
      return make();
    } catch (error) {
      if (!isFault(error)) throw error;
      log('part-fault', { part, why: error.mend ? `${error.message} (${error.mend})` : error.message });
      return without(error);
    }
  };

  const makeButton = (): Button => {
    const { line, activeLow, pull } = config.button;
    if (line === null) return { listen: () => nothing };
    const input = lines().input(line, { activeLow, pull, debounceUs: 0, use: 'button' });
    closers.push(input.close);
    return createButton(input, fromMonotonicUs);
  };
  const makeShutter = (): Shutter => {
    const { line, activeLow, longestPulseMs, dutyPercent } = config.shutter;
    if (line === null) return { energise: nothing, release: nothing };
    const coil = output(line, 'coil', activeLow);
    const limited = (why: string) => log('coil-fault', { why });
    const supervisor = config.watchdog.coilSupervisor
      ? createSupervisor(coil.letGo, threadFile('supervisor'), why => limited(`the coil's supervisor: ${why}`))
      : null;
    const shutter = createShutter({
      timing,
      line: coil,
      limits: { longestPulseMs, dutyPercent },
      supervisor,
      onLimit: onUs => limited(`let go by its limit after ${Math.round(onUs / 1000)} ms`),
      fromMonotonicUs,
    });
    closers.push(shutter.close);
    return shutter;
  };
  const makeLamp = (): Lamp => {
    const { line, led } = config.lamp;
    if (led === '' && line === null) return { show: nothing };
    const lamp = createLamp(timing, led !== '' ? ledLight(led) : lineLight(output(line as LineId, 'lamp')));
    closers.push(lamp.close);
    return lamp;
  };
  const makeMotor = (): Motor => {
    const { inLine, outLine, deadMs, travelMs } = config.motor;
    if (inLine === null || outLine === null) return { drive: nothing };
    const sides = { in: output(inLine, 'focus in'), out: output(outLine, 'focus out') };
    const motor = createMotor(timing, sides, { deadMs, travelMs });
    closers.push(motor.close);
    return motor;
  };

  const { webcam, picture } = config;
  const darkroom = createThreadDarkroom(threadFile('darkroom'), {
    picture,
    profile,
    cameraName: config.camera.name,
  });
  closers.push(darkroom.close);

  // The album sets timers on the logical clock, so its disk's answers have to move it.
  const disk = createDisk(config.album.folder, deliver => inlet.take('disk', {}, deliver));

  const close = () => {
    // The last opened is let go first: lines before their chip.
    for (const closer of closers.splice(0).reverse()) closer();
  };

  try {
    const rig: Rig = {
      clock,
      button: makeButton(),
      shutter: or('shutter', makeShutter, why => ({
        energise() {
          throw why;
        },
        release: nothing,
      })),
      lamp: or('lamp', makeLamp, () => ({ show: nothing })),
      motor: or('motor', makeMotor, () => ({ drive: nothing })),
      webcam: createWebcam({
        open: () =>
          openCapture({
            device: webcam.device,
            wanted: webcam,
            wishes: webcam,
            note: why => log('part-fault', { part: 'webcam', why }),
          }),
        timing,
        watchFd: (fd, ready) => watchFd(fd, 'in', ready, { everyMs: askEveryMs }),
        fromMonotonicUs,
        warmupFrames: webcam.warmupFrames,
        frameTimeoutMs: webcam.frameTimeoutMs,
      }),
      darkroom,
      printer: keepSpaced(createPrinter(config, timing), clock.nowUs, () => fromMonotonicUs(timing.nowUs()), timing),
      album: createAlbum({ disk: disk, clock, config }),
      supply: createSupply({ sensor: config.supply.sensor, floorVolts: config.supply.floorVolts }),
    };
    return { rig, warmUp: darkroom.warmUp, close };
  } catch (error) {
    close();
    throw error;
  }
};
