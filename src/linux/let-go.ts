import type { Config } from '../config/schema.ts';
import { isFault } from '../parts/fault.ts';
import type { Gpio } from './gpio/lines.ts';
import { openGpio } from './gpio/open.ts';

/** Puts every output at rest after a program that couldn't any more. Says what it couldn't reach. */
export const letGoOfLines = ({ gpio: { access, chip }, shutter, lamp, motor }: Config): string[] => {
  const outputs = [
    { line: shutter.line, activeLow: shutter.activeLow, use: 'coil' },
    { line: motor.inLine, activeLow: false, use: 'focus in' },
    { line: motor.outLine, activeLow: false, use: 'focus out' },
    { line: lamp.led === '' ? lamp.line : null, activeLow: false, use: 'lamp' },
  ];
  const missed: string[] = [];
  let gpio: Gpio | null = null;
  for (const { line, activeLow, use } of outputs) {
    if (line === null) continue;
    try {
      gpio ??= openGpio(access, chip);
      gpio.output(line, { activeLow, use }).close();
    } catch (error) {
      if (!isFault(error)) throw error;
      missed.push(error.message);
    }
  }
  gpio?.close();
  return missed;
};
