import type { VirtualRig } from './rig.ts';

/** Something that goes wrong at a party, and how it is put right. */
export interface FaultEntry {
  /** For the list of faults. */
  what: string;
  /** What is done to the rig; `forMs` where the fault has its own length. */
  inflict(rig: VirtualRig, forMs: number): void;
  /** Left out where the fault is over by itself. */
  heal?(rig: VirtualRig): void;
  /** Takes back what still lies in wait, of a fault that is over by itself. */
  disarm?(rig: VirtualRig): void;
}

const entry = (what: string, inflict: FaultEntry['inflict'], heal?: FaultEntry['heal']): FaultEntry =>
  heal ? { what, inflict, heal } : { what, inflict };
const lyingInWait = (what: string, inflict: FaultEntry['inflict'], disarm: FaultEntry['heal']): FaultEntry => ({
  what,
  inflict,
  disarm,
});

/** How long a fault lasts that heals by itself, where nothing else is said. */
export const usualFaultMs = 1500;

export const faults = {
  'paper-out': entry(
    'the roll is empty',
    ({ control }) => control.printer.paperOut(true),
    ({ control }) => control.printer.loadRoll(15_000),
  ),
  'lid-open': entry(
    'the lid stands open',
    ({ control }) => control.printer.lid(true),
    ({ control }) => control.printer.lid(false),
  ),
  'head-hot': entry(
    'the print head is hot',
    ({ control }) => control.printer.hot(true),
    ({ control }) => control.printer.hot(false),
  ),
  'near-end': entry(
    'the sensor sees the end of the roll coming',
    ({ control }) => control.printer.nearEnd(true),
    ({ control }) => control.printer.nearEnd(false),
  ),
  'printer-unplugged': entry(
    'the printer is unplugged',
    ({ control }) => control.printer.unplug(),
    ({ control }) => control.printer.replug(),
  ),
  'printer-off': entry(
    'the printer has no power',
    ({ control }) => control.printer.power(false),
    ({ control }) => control.printer.power(true),
  ),
  'printer-silent': entry(
    'the printer prints but answers nothing',
    ({ control }) => control.printer.silent(true),
    ({ control }) => control.printer.silent(false),
  ),
  'webcam-unplugged': entry(
    'the webcam is unplugged',
    ({ control }) => control.webcam.unplug(),
    ({ control }) => control.webcam.replug(),
  ),
  'webcam-frozen': entry(
    'the stream stands still without a word',
    ({ control }) => control.webcam.freeze(true),
    ({ control }) => control.webcam.freeze(false),
  ),
  'frames-dropped': entry('ten frames get lost', ({ control }) => control.webcam.drop(10)),
  'frames-stale': entry('frames wait in the queue and come late', ({ control }) => control.webcam.stale(4)),
  'frames-torn': lyingInWait(
    'three frames arrive cut short',
    ({ control }) => control.webcam.tear(3),
    ({ control }) => control.webcam.tear(0),
  ),
  'button-stuck': entry(
    'the contact stays closed',
    ({ control }) => control.button.stick(true),
    ({ control }) => control.button.stick(null),
  ),
  'contact-loose': entry('the contact chatters', ({ control }, forMs) => control.button.storm(forMs)),
  'coil-dead': entry(
    'the line of the coil can’t be driven',
    ({ control }) => control.shutter.fail('the driver doesn’t answer'),
    ({ control }) => control.shutter.fail(null),
  ),
  'coil-jammed': entry(
    'the armature sticks',
    ({ control }) => control.shutter.jam(true),
    ({ control }) => control.shutter.jam(false),
  ),
  'battery-weak': entry(
    'the battery is low',
    ({ control }) => control.supply.weaken(6.3, 0.35),
    ({ control }) => control.supply.heal(),
  ),
  'darkroom-failing': entry(
    'no picture can be developed',
    ({ control }) => control.darkroom.control.fail('out of memory'),
    ({ control }) => control.darkroom.control.fail(null),
  ),
  'darkroom-slow': entry(
    'developing takes five times as long',
    ({ control }) => control.darkroom.control.slow(5),
    ({ control }) => control.darkroom.control.slow(1),
  ),
  'disk-full': entry(
    'the disk is full',
    ({ disk }) => disk.capacity(0),
    ({ disk }) => disk.capacity(Number.POSITIVE_INFINITY),
  ),
  'disk-read-only': entry(
    'the disk can’t be written',
    ({ disk }) => disk.readOnly(true),
    ({ disk }) => disk.readOnly(false),
  ),
  'disk-failing': lyingInWait(
    'two steps on the disk fail',
    ({ control }) => control.disk.fail(2),
    ({ control }) => control.disk.fail(0),
  ),
  'disk-slow': entry(
    'the disk takes forty times as long',
    ({ control }) => control.disk.slow(40),
    ({ control }) => control.disk.slow(1),
  ),
  'console-jammed': entry(
    'nobody takes the lines of the console',
    ({ control }) => control.console.jam(true),
    ({ control }) => control.console.jam(false),
  ),
  'console-slow': entry(
    'the console takes 300 bytes a second',
    ({ control }) => control.console.baud(3000),
    ({ control }) => control.console.baud(null),
  ),
  'clock-set': entry('the board learns the time', ({ control }) => control.stepWall(1_234_567_000)),
  'clock-back': entry('the board’s time goes back', ({ control }) => control.stepWall(-987_654_000)),
  stall: entry('the program stands still', ({ control }, forMs) => control.stall(forMs)),
  'power-cut': entry(
    'all power is cut',
    rig => rig.powerCut(),
    rig => void rig.boot(),
  ),
  'brown-out': entry(
    'the board resets, the printer keeps its power',
    rig => rig.powerCut(false),
    rig => void rig.boot(),
  ),
} as const satisfies Record<string, FaultEntry>;

export type FaultName = keyof typeof faults;
export const faultNames = Object.keys(faults) as [FaultName, ...FaultName[]];
