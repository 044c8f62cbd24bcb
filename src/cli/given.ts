import { Fault } from '../parts/fault.ts';
import type { Given } from './command.ts';

/** The value of an option that takes one; undefined where it wasn't given. Throws a `Fault` where it is empty. */
export const textOption = ({ values }: Pick<Given, 'values'>, name: string): string | undefined => {
  const value = values[name];
  if (value === '') throw new Fault('usage', `--${name} is empty`, 'give it a value, or leave it out');
  return typeof value === 'string' ? value : undefined;
};

/** A whole number. Throws a `Fault` where something else was given. */
export const wholeOption = (given: Given, name: string, from: number, to: number): number | undefined => {
  const value = textOption(given, name);
  if (value === undefined) return undefined;
  if (!/^\d+$/.test(value) || Number(value) < from || Number(value) > to)
    throw new Fault(
      'usage',
      `--${name} ${value}: not a whole number from ${from} to ${to}`,
      'see slipshutter rehearse --help',
    );
  return Number(value);
};
