import { readFileSync, writeFileSync } from 'node:fs';

const tracing = '/sys/kernel/tracing';

export interface LineChange {
  /** CLOCK_MONOTONIC, microseconds. */
  atUs: number;
  offset: number;
  high: boolean;
}

const readText = (file: string) => readFileSync(file, 'utf8');
export const gpioBase = (): number => Number(readText('/sys/class/gpio/gpiochip512/base'));

/** The kernel's own word on every output line: tracepoint `gpio:gpio_value`, stamped in microseconds. */
export const createTracepoint = () => {
  const base = gpioBase();
  writeFileSync(`${tracing}/trace_clock`, 'mono');
  writeFileSync(`${tracing}/events/gpio/gpio_value/enable`, '1');
  writeFileSync(`${tracing}/trace`, '');
  return {
    changes(offsets: readonly number[]): LineChange[] {
      const seen = new Map<number, boolean>();
      return [...readText(`${tracing}/trace`).matchAll(/ (\d+)\.(\d{6}): gpio_value: (\d+) set (\d)/g)]
        .map(([, s, us, line, value]) => ({
          atUs: Number(s) * 1_000_000 + Number(us),
          offset: Number(line) - base,
          high: value === '1',
        }))
        .filter(({ offset }) => offsets.includes(offset))
        .filter(({ offset, high }) => {
          const changed = (seen.get(offset) ?? false) !== high;
          seen.set(offset, high);
          return changed;
        });
    },
  };
};

const simulated = '/sys/devices/platform/gpio-sim.0/gpiochip0';
/** The outside of an input line. */
export const pullLine = (offset: number, up: boolean): void =>
  writeFileSync(`${simulated}/sim_gpio${offset}/pull`, up ? 'pull-up' : 'pull-down');
/** The outside of an output line. */
export const lineIsHigh = (offset: number): boolean => readText(`${simulated}/sim_gpio${offset}/value`).trim() === '1';
