import { nearest } from '../cli/nearest.ts';
import { lookNames } from '../picture/looks.ts';
import type { Config } from './schema.ts';

/** Two settings that are each allowed and can't hold together. `path` is the one to change first, `against` the other's name. */
export interface Contradiction {
  path: string[];
  against: string;
  what: string;
  mend: string;
}

/** GPIO lines in use, by the setting that names them. */
export const linesInUse = (config: Config): { path: string[]; line: string | number }[] =>
  [
    { path: ['button', 'line'], line: config.button.line },
    { path: ['shutter', 'line'], line: config.shutter.line },
    { path: ['lamp', 'line'], line: config.lamp.led === '' ? config.lamp.line : null },
    { path: ['motor', 'inLine'], line: config.motor.inLine },
    { path: ['motor', 'outLine'], line: config.motor.outLine },
  ].flatMap(({ path, line }) => (line === null ? [] : [{ path, line }]));

const samePin = (config: Config): Contradiction[] => {
  const taken = new Map<string | number, string>();
  return linesInUse(config).flatMap(({ path, line }) => {
    const name = path.join('.');
    const first = taken.get(line);
    if (first === undefined) {
      taken.set(line, name);
      return [];
    }
    return [
      {
        path,
        against: first,
        what: `is ${JSON.stringify(line)}, and so is ${first}`,
        mend: 'each part needs a line of its own',
      },
    ];
  });
};

const missingLook = ({ picture: { look, looks } }: Config): Contradiction[] => {
  const known = lookNames(looks);
  if (known.includes(look)) return [];
  const near = nearest(look, known);
  return [
    {
      path: ['picture', 'look'],
      against: 'picture.looks',
      what: `is ${JSON.stringify(look)}, and there is no such look`,
      mend: `there are ${known.join(', ')}${near ? `; did you mean ${JSON.stringify(near)}?` : ''}`,
    },
  ];
};

/** What a configuration says against itself; such a camera is better not started than started half. */
export const contradictions = (config: Config): Contradiction[] => {
  const { shutter, supply, printer, motor } = config;
  const found = [...samePin(config), ...missingLook(config)];
  const say = (path: string[], against: string, what: string, mend: string) =>
    found.push({ path, against, what, mend });
  if (shutter.pulseMs > shutter.longestPulseMs)
    say(
      ['shutter', 'pulseMs'],
      'shutter.longestPulseMs',
      `is ${shutter.pulseMs} ms, longer than the hard limit shutter.longestPulseMs of ${shutter.longestPulseMs} ms`,
      'shorten the pulse; raise the limit only as far as the coil’s maker allows',
    );
  if (supply.emptyVolts > supply.nominalVolts)
    say(
      ['supply', 'emptyVolts'],
      'supply.nominalVolts',
      `is ${supply.emptyVolts} V, above supply.nominalVolts of ${supply.nominalVolts} V`,
      'an empty battery has less than its nominal voltage',
    );
  if (printer.rollCoreMm >= printer.rollOuterMm)
    say(
      ['printer', 'rollCoreMm'],
      'printer.rollOuterMm',
      `is ${printer.rollCoreMm} mm, not less than printer.rollOuterMm of ${printer.rollOuterMm} mm`,
      'measure the core’s outer diameter',
    );
  if ((motor.inLine === null) !== (motor.outLine === null))
    say(
      ['motor', motor.inLine === null ? 'inLine' : 'outLine'],
      motor.inLine === null ? 'motor.outLine' : 'motor.inLine',
      'is null while the other side of the bridge has a line',
      'name both sides of the H-bridge, or none',
    );
  return found;
};
