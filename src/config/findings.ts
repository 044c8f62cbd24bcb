import { findExtras, findPackages, findPrinter, findProcessor, findWebcam } from './find-devices.ts';
import { findClock, findCoil, findDisk, findLine, findPaper } from './find-limits.ts';
import { findLamp, findPins, findSandbox } from './find-pins.ts';
import type { Checked, Finding, Gravity } from './finding.ts';

const order: Record<Gravity, number> = { fault: 0, warning: 1, note: 2 };

/** Everything that configuration and board have against each other, the gravest first. */
export const findAll = (checked: Checked): Finding[] =>
  [
    findPins,
    findLamp,
    findWebcam,
    findPrinter,
    findLine,
    findCoil,
    findPaper,
    findDisk,
    findExtras,
    findSandbox,
    findProcessor,
    findPackages,
    findClock,
  ]
    .flatMap(find => find(checked))
    .sort((a, b) => order[a.gravity] - order[b.gravity]);
