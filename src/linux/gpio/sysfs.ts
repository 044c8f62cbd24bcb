import { existsSync, readdirSync, readFileSync, realpathSync } from 'node:fs';
import { dirname } from 'node:path';
import { Fault } from '../../parts/fault.ts';
import { codeOf, deviceFault, optionalPackage } from '../native.ts';
import type { Gpio, InputLine, InputOptions, LineEdge, LineId, OutputLine, OutputOptions } from './lines.ts';

export interface SysfsChip {
  /** Number of the chip's first line in sysfs; 512 and up on newer kernels, so never to be guessed. */
  base: number;
  label: string;
  lines: number;
}

const gpioClass = (root: string) => `${root}/sys/class/gpio`;
const readText = (file: string) => readFileSync(file, 'utf8').trim();
const realPath = (path: string): string | null => {
  try {
    return realpathSync(path);
  } catch {
    return null;
  }
};

/** The chip whose label or device name (as in /dev) is `chip`. `root` is for tests. */
export const findSysfsChip = (chip: string, root = ''): SysfsChip => {
  const folder = gpioClass(root);
  if (!existsSync(folder))
    throw new Fault(
      'part-missing',
      `GPIO: ${folder} isn't there`,
      'this kernel has no sysfs GPIO; use gpio.access chip',
    );
  const name = chip.replace(/^\/dev\//, '');
  // The device behind /dev/gpiochip0 sits in the folder of the hardware that sysfs names as `device`.
  const hardware = realPath(`${root}/sys/bus/gpio/devices/${name}`);
  const chips = readdirSync(folder)
    .filter(entry => /^gpiochip\d+$/.test(entry))
    .map(entry => ({
      base: Number(readText(`${folder}/${entry}/base`)),
      label: readText(`${folder}/${entry}/label`),
      lines: Number(readText(`${folder}/${entry}/ngpio`)),
      device: realPath(`${folder}/${entry}/device`),
    }))
    .sort((a, b) => a.base - b.base);
  const found =
    chips.find(({ label }) => label === chip) ??
    chips.find(({ device }) => device !== null && hardware !== null && dirname(hardware) === device) ??
    // Kernels older than the character device: one chip can only be this one.
    (hardware === null && chips.length === 1 && /^gpiochip\d+$/.test(name) ? chips[0] : undefined);
  if (found) return { base: found.base, label: found.label, lines: found.lines };
  throw new Fault(
    'part-missing',
    `GPIO: sysfs shows no chip '${chip}'`,
    chips.length > 0
      ? `set gpio.chip to one of: ${chips.map(({ label }) => `'${label}'`).join(', ')}`
      : 'this board shows no GPIO chip in sysfs',
  );
};

type OnoffGpio = import('onoff').Gpio;

/** Lines by sysfs, through `onoff`. Bias and debounce aren't to be had this way, nor the kernel's stamps. */
export const createSysfsGpio = (chip: string, nowMonotonicUs: () => number): Gpio => {
  const onoff = optionalPackage<typeof import('onoff')>('onoff');
  if (!onoff)
    throw new Fault(
      'part-missing',
      "GPIO by sysfs needs the package 'onoff', which isn't installed",
      'npm install onoff (its part epoll is compiled: it needs a C++ compiler, make and Python)',
    );
  const { base, lines } = findSysfsChip(chip);

  const numberOf = (line: LineId, use: string): number => {
    if (typeof line === 'string')
      throw new Fault(
        'config',
        `GPIO: sysfs knows no line names; '${line}' is given for the ${use}`,
        'give its offset on the chip, or set gpio.access to chip',
      );
    if (line < lines) return base + line;
    throw new Fault('part-missing', `GPIO: '${chip}' has no line ${line} for the ${use}`, `it has 0 to ${lines - 1}`);
  };
  const grant = (line: LineId, use: string, make: (number: number) => OnoffGpio): OnoffGpio => {
    const number = numberOf(line, use);
    try {
      return make(number);
    } catch (error) {
      if (codeOf(error) === 'EBUSY')
        throw new Fault(
          'part-busy',
          `GPIO: line ${line} of '${chip}' (sysfs ${number}), for the ${use}, is in use by another user or driver`,
          'end that user, or take its overlay or driver out of the boot configuration, or choose another line',
          { cause: error },
        );
      throw deviceFault(error, `GPIO line ${line} (${use})`, `/sys/class/gpio/gpio${number}`, 'gpio');
    }
  };

  const output = (line: LineId, options: OutputOptions): OutputLine => {
    // The direction's word sets the pin itself, whatever active_low says: it begins inactive without a glitch.
    const gpio = grant(
      line,
      options.use,
      number => new onoff.Gpio(number, options.activeLow ? 'high' : 'low', 'none', { activeLow: options.activeLow }),
    );
    let open = true;
    return {
      set(active) {
        if (open) gpio.writeSync(active ? 1 : 0);
      },
      letGo: { by: 'sysfs', file: `/sys/class/gpio/gpio${numberOf(line, options.use)}/value`, inactive: '0' },
      close() {
        if (!open) return;
        gpio.writeSync(0);
        open = false;
        gpio.unexport();
      },
    };
  };

  const input = (line: LineId, options: InputOptions): InputLine => {
    const gpio = grant(
      line,
      options.use,
      number => new onoff.Gpio(number, 'in', 'both', { activeLow: options.activeLow }),
    );
    const listeners = new Set<(edge: LineEdge) => void>();
    let last = gpio.readSync() === 1;
    let open = true;
    const changed = (error: Error | null | undefined, value: number) => {
      if (error || !open) return;
      const atMonotonicUs = nowMonotonicUs();
      const active = value === 1;
      // Two edges between two readings show as none; the line was then away and back.
      if (active === last) for (const heard of listeners) heard({ active: !active, atMonotonicUs });
      last = active;
      for (const heard of listeners) heard({ active, atMonotonicUs });
    };
    return {
      read: () => gpio.readSync() === 1,
      listen(heard) {
        if (listeners.size === 0) gpio.watch(changed);
        listeners.add(heard);
        return () => {
          if (listeners.delete(heard) && listeners.size === 0) gpio.unwatch(changed);
        };
      },
      close() {
        if (!open) return;
        open = false;
        listeners.clear();
        gpio.unexport();
      },
    };
  };

  return { access: 'sysfs', output, input, close: () => {} };
};
