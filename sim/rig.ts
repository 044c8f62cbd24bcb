import type { Disk } from '../src/album/disk.ts';
import type { Profile } from '../src/config/profile.ts';
import type { Config } from '../src/config/schema.ts';
import { keepSpaced } from '../src/linux/printer/spaced.ts';
import type { Album } from '../src/parts/album.ts';
import type { Clock } from '../src/parts/clock.ts';
import type { Dots } from '../src/parts/darkroom.ts';
import type { Rig } from '../src/parts/rig.ts';
import type { Frame, PixelFormat } from '../src/parts/webcam.ts';
import { throughInlet } from '../src/record/inlet.ts';
import { type ButtonControl, createVirtualButton } from './button.ts';
import { createVirtualClock, type VirtualClock } from './clock.ts';
import { createVirtualConsole, type VirtualConsole } from './console.ts';
import { createVirtualDarkroom, type Develop, type VirtualDarkroom } from './darkroom.ts';
import { createDiskModel, type DiskModel } from './disk.ts';
import { createDiskPort, type DiskPort } from './disk-port.ts';
import { createVirtualLamp, type VirtualLamp } from './lamp.ts';
import { createLife, type Life } from './life.ts';
import { createVirtualMotor } from './motor.ts';
import { type Mechanism, mechanismOf } from './printer/mechanism.ts';
import { createVirtualPrinter, type Line, type PrinterControl, type VirtualPrinter } from './printer/printer.ts';
import { chance } from './random.ts';
import { createScene } from './scene.ts';
import { createVirtualShutter, type VirtualShutter } from './shutter.ts';
import { createVirtualSupply, type VirtualSupply } from './supply.ts';
import { createTraces, type Traces } from './traces.ts';
import type { Scene } from './view.ts';
import { createVirtualWebcam, type WebcamControl } from './webcam.ts';

export interface VirtualRigOptions {
  config: Config;
  profile: Profile;
  seed: number;
  clock?: VirtualClock;
  traces?: Traces;
  scene?: Scene;
  /** The disk outlives the program and may be handed on to another rig. */
  disk?: DiskModel;
  develop: Develop;
  /** What a picture costs the board, µs. */
  developUs?: (dots: Dots) => number;
  /** Puts an album on the disk, anew at each boot. */
  createAlbum(disk: Disk, clock: Clock): Album;
  /** The printer as it really is, where it isn't what its profile promises. */
  mechanism?: Mechanism;
  line?: Partial<Line>;
  rollMm?: number;
  roomC?: number;
  /** Every byte that reaches the printer. */
  tap?: (bytes: Uint8Array) => void;
  /** The board learnt the time, as the program of each life hears it. */
  onWallStep?: (stepMs: number) => void;
  /** Long runs: no sample for every frame, blink and dot line. */
  sparse?: boolean;
  /** Somebody tears each print off when the printer has rested this long. */
  tearsAfterMs?: number;
}

export interface RigControl {
  press: ButtonControl['press'];
  contact: ButtonControl['contact'];
  button: ButtonControl;
  webcam: WebcamControl;
  shutter: VirtualShutter;
  supply: VirtualSupply;
  darkroom: VirtualDarkroom;
  printer: PrinterControl;
  lamp: VirtualLamp;
  disk: DiskPort['control'];
  console: VirtualConsole['control'];
  /** The board learns the time. */
  stepWall(byMs: number): void;
  /** The program's event loop stands still. */
  stall(forMs: number): void;
}

export interface VirtualRig {
  /** What the program of this life is given; another one after each `boot`. */
  readonly rig: Rig;
  readonly life: Life;
  clock: VirtualClock;
  traces: Traces;
  control: RigControl;
  printer: VirtualPrinter;
  disk: DiskModel;
  console: VirtualConsole;
  /**
   * The board's power goes, and with it the program; what wasn't synced is drawn by lot. `printerToo`: one battery
   * feeds both.
   */
  powerCut(printerToo?: boolean): void;
  /** Power is back: a new life. */
  boot(): Rig;
}

/** Microseconds a dot for the picture pipeline on a small board: invented, 0.9 s for 384 × 512 dots. */
const developUsADot = 4.5;

export const createVirtualRig = (options: VirtualRigOptions): VirtualRig => {
  const { config, profile, seed, sparse = false } = options;
  const clock = options.clock ?? createVirtualClock();
  const traces = options.traces ?? createTraces(clock.nowUs);
  const disk = options.disk ?? createDiskModel();
  const luck = chance(seed);

  const supply = createVirtualSupply(clock, traces, {
    openVolts: config.supply.nominalVolts,
    internalOhm: config.supply.internalOhm,
    floorVolts: config.supply.floorVolts,
    measured: true,
  });
  supply.draw('board', config.supply.boardWatts / config.supply.nominalVolts);
  const shutter = createVirtualShutter(
    clock,
    traces,
    {
      coilOhm: config.supply.coilOhm,
      coilMh: config.supply.coilMh,
      nominalVolts: config.supply.nominalVolts,
      longestPulseMs: config.shutter.longestPulseMs,
      dutyPercent: config.shutter.dutyPercent,
      bladesClearMs: config.shutter.bladesClearMs,
    },
    supply,
  );
  const button = createVirtualButton(clock, traces, luck.fork('button'));
  const webcam = createVirtualWebcam(
    clock,
    traces,
    {
      format: formatOf(config),
      widthPx: config.webcam.widthPx,
      heightPx: config.webcam.heightPx,
      framesPerSecond: config.webcam.framesPerSecond,
      warmupFrames: config.webcam.warmupFrames,
      frameTimeoutMs: config.webcam.frameTimeoutMs,
      huffmanTables: false,
      seed,
      turn: Number(config.picture.rotate) as 0 | 90 | 180 | 270,
      traceEveryFrame: !sparse,
    },
    options.scene ?? createScene('party', seed),
    shutter.crossing,
  );
  const lamp = createVirtualLamp(clock, traces, !sparse);
  const motor = createVirtualMotor(clock, traces, config.motor);
  const darkroom = createVirtualDarkroom(
    clock,
    traces,
    options.develop,
    options.developUs ?? (dots => dots.widthDots * dots.heightDots * developUsADot),
  );
  const printer = createVirtualPrinter({
    clock,
    traces,
    mechanism: options.mechanism ?? mechanismOf(profile),
    line: {
      kind: config.printer.link === 'usb' ? 'usb' : 'serial',
      baud: config.printer.baud,
      flow: config.printer.flow,
      ...options.line,
    },
    chance: luck.fork('printer'),
    supply: profile.ownSupply ? undefined : supply,
    rollMm: options.rollMm,
    traceLines: !sparse,
    tearsAfterMs: options.tearsAfterMs,
    tap: options.tap,
  });
  if (options.roomC !== undefined) printer.control.ambient(options.roomC);
  const diskPort = createDiskPort(clock, disk, luck.fork('disk'));
  const cuts = luck.fork('cuts');
  const serialConsole = createVirtualConsole(clock);

  /** Ports of one life: nothing passes once it has ended. */
  const rigOf = (life: Life): Rig => {
    const { act } = life;
    const ownStamps = (frame: Frame): Frame => ({
      ...withoutData(frame),
      exposureStartUs: life.fromWorld(frame.exposureStartUs),
      exposureEndUs: life.fromWorld(frame.exposureEndUs),
      get data() {
        return frame.data;
      },
    });
    const answering = <T>(heard: (said: T) => void) => life.hear('disk', heard);
    const parts: Rig = {
      clock: life.clock,
      button: {
        listen: heard => button.button.listen(said => heard({ ...said, atUs: life.fromWorld(said.atUs) })),
      },
      shutter: {
        energise: act(shutter.energise),
        release: act(shutter.release),
        listen: heard => shutter.listen(said => heard({ ...said, atUs: life.fromWorld(said.atUs) })),
      },
      webcam: {
        open: webcam.open,
        watch: heard => webcam.watch(frame => heard(ownStamps(frame))),
      },
      darkroom,
      // As on the board: what a stall held up goes out as far apart as it was meant to.
      printer: keepSpaced(
        { open: printer.port.open, write: act(printer.port.write), discard: act(printer.port.discard) },
        life.clock.nowUs,
        () => life.fromWorld(clock.nowUs()),
        life,
      ),
      lamp: { show: act(lamp.show) },
      motor: { drive: act(motor.drive) },
      album: options.createAlbum(
        {
          put: act((path, bytes, heard) => diskPort.put(path, bytes, answering(heard))),
          append: act((path, bytes, heard) => diskPort.append(path, bytes, answering(heard))),
          read: act((path, atMost, heard) => diskPort.read(path, atMost, answering(heard))),
          rename: act((from, to, heard) => diskPort.rename(from, to, answering(heard))),
          remove: act((path, heard) => diskPort.remove(path, answering(heard))),
          makeFolder: act((path, heard) => diskPort.makeFolder(path, answering(heard))),
          list: act((path, heard) => diskPort.list(path, answering(heard))),
          syncFolder: act((path, heard) => diskPort.syncFolder(path, answering(heard))),
          freeBytes: act(heard => diskPort.freeBytes(answering(heard))),
        },
        life.clock,
      ),
      supply,
    };
    return throughInlet(parts, life.inlet);
  };

  let life = createLife(clock, options);
  let rig = rigOf(life);

  return {
    get rig() {
      return rig;
    },
    get life() {
      return life;
    },
    clock,
    traces,
    printer,
    disk,
    console: serialConsole,
    control: {
      press: button.control.press,
      contact: button.control.contact,
      button: button.control,
      webcam: webcam.control,
      shutter,
      supply,
      darkroom,
      printer: printer.control,
      lamp,
      disk: diskPort.control,
      console: serialConsole.control,
      stepWall: clock.stepWall,
      stall: forMs => life.stall(forMs * 1000),
    },
    powerCut(printerToo = true) {
      life.end();
      shutter.powerOff();
      webcam.powerOff();
      lamp.powerOff();
      motor.powerOff();
      printer.powerOff();
      if (printerToo) printer.control.power(false);
      diskPort.control.powerCut(cuts);
      disk.powerCut(cuts);
    },
    boot() {
      printer.control.power(true);
      life = createLife(clock, options);
      rig = rigOf(life);
      return rig;
    },
  };
};

const formatOf = (config: Config): PixelFormat => (config.webcam.format === 'auto' ? 'YUYV' : config.webcam.format);

/** A copy that doesn't touch `data`: that would draw the picture. */
const withoutData = (frame: Frame): Omit<Frame, 'data'> => ({
  sequence: frame.sequence,
  exposureStartUs: frame.exposureStartUs,
  exposureEndUs: frame.exposureEndUs,
  format: frame.format,
  widthPx: frame.widthPx,
  heightPx: frame.heightPx,
  strideBytes: frame.strideBytes,
  range: frame.range,
});
