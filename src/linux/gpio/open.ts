import { Fault, isFault } from '../../parts/fault.ts';
import { processHost } from '../inlet.ts';
import { createChipGpio } from './chip.ts';
import type { Gpio } from './lines.ts';
import { createSysfsGpio } from './sysfs.ts';

/** The way to the lines that is configured; `auto` takes the chip's device, and sysfs where that isn't to be had. */
export const openGpio = (access: 'auto' | 'chip' | 'sysfs', chip: string): Gpio => {
  if (access === 'chip') return createChipGpio(chip);
  if (access === 'sysfs') return createSysfsGpio(chip, processHost.monotonicUs);
  try {
    return createChipGpio(chip);
  } catch (byChip) {
    try {
      return createSysfsGpio(chip, processHost.monotonicUs);
    } catch (bySysfs) {
      if (!isFault(byChip) || !isFault(bySysfs)) throw byChip;
      throw new Fault(byChip.code, `${byChip.message}; nor by sysfs: ${bySysfs.message}`, byChip.mend, {
        cause: byChip,
      });
    }
  }
};
