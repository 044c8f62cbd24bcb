/** What the emulated board's body has, and how it is reached from a shell of the guest. */
export const simulated = '/sys/devices/platform/gpio-sim.0/gpiochip0';
export const tracing = '/sys/kernel/tracing';
export const vivid = '/sys/bus/platform/drivers/vivid';
/** Offsets on the chip, by the names that its lines have. */
export const offsets = { BUTTON: 17, LAMP: 22, FOCUS_IN: 23, FOCUS_OUT: 24, COIL: 27 } as const;
const pull = `${simulated}/sim_gpio${offsets.BUTTON}/pull`;
export const pullDown = `echo pull-down >${pull}`;
export const pullUp = `echo pull-up >${pull}`;
/** A finger that stays for so many seconds. */
export const pressFor = (seconds: number): string => `${pullDown}; sleep ${seconds}; ${pullUp}`;
/** Levels of lamp, both sides of the bridge, and coil: a line each. */
export const readOutputs = `cat ${[offsets.LAMP, offsets.FOCUS_IN, offsets.FOCUS_OUT, offsets.COIL]
  .map(at => `${simulated}/sim_gpio${at}/value`)
  .join(' ')}`;
/** First line of the chip as sysfs and the kernel's tracepoint count. */
export const readBase = 'cat /sys/class/gpio/gpiochip512/base';

export interface CoilChange {
  /** By the clock of the trace, µs. */
  atUs: number;
  on: boolean;
}

/** When the coil's line went on and off, by the kernel's tracepoint `gpio:gpio_value`. */
export const coilChangesIn = (trace: string, base: number): CoilChange[] => {
  let on = false;
  return [...trace.matchAll(/ (\d+)\.(\d{6}): gpio_value: (\d+) set (\d)/g)].flatMap(([, s, us, line, value]) => {
    if (Number(line) !== base + offsets.COIL || (value === '1') === on) return [];
    on = value === '1';
    return [{ atUs: Number(s) * 1e6 + Number(us), on }];
  });
};

/**
 * The body as a configuration. By sysfs lines have no names; the small picture is made in the plainest way, since the
 * emulator is slow.
 */
export const bodyConfig = (access: 'chip' | 'sysfs' = 'chip') => {
  const line = (name: keyof typeof offsets) => (access === 'chip' ? name : offsets[name]);
  return {
    gpio: { access, chip: access === 'chip' ? 'gpiochip0' : 'body' },
    button: { line: line('BUTTON') },
    shutter: { line: line('COIL') },
    lamp: { line: line('LAMP') },
    motor: { inLine: line('FOCUS_IN'), outLine: line('FOCUS_OUT') },
    // A host that has no time for the emulator for a while is no webcam that is lost, and a finger no hold.
    webcam: { widthPx: 640, heightPx: 360, framesPerSecond: 25, frameTimeoutMs: 10_000 },
    gestures: { hold: 'none' },
    picture: {
      aspect: 1.77,
      look: 'plain',
      looks: { plain: { levels: 0, localContrast: 0, sharpen: 0, halftone: 'floyd-steinberg' } },
    },
    printer: { device: '/dev/ttyS1', baud: 115_200 },
    album: { folder: '/state/album', leastFreeMb: 1 },
  };
};
