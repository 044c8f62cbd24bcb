import { hanging } from '../../fold.ts';

/** A value with its unit; for inputs, the name by which it can be set. */
export interface Quantity {
  name: string;
  value: number;
  /** Symbol of the unit, '' for a count. */
  unit: string;
  help: string;
}

/** A sum: what comes out, by which formula, and where the formula or the figure to compare with is from. */
export interface Result extends Quantity {
  formula: string;
  /** A published source, or `common practice, no source`, or `from memory`. */
  source: string;
}

export interface Sheet {
  title: string;
  inputs: Quantity[];
  results: Result[];
  /** What is over a limit, and what to do about it. */
  warnings: string[];
  /** Facts that have no figure of their own, each with its source. */
  notes: string[];
  /** What can hurt; local rules and qualified people come first. */
  cautions: string[];
}

export const sources = {
  ohm: 'Ohm’s law (textbook)',
  head: 'thermal mechanisms’ technical references, electrical characteristics (read)',
  heatCommand: 'panel printers’ command manuals, heat setting 1B 37 (read)',
  cell: 'cell data sheets: 20 to 80 mΩ a new cylindrical lithium cell; sag = current · resistance (read)',
  rl: 'step response of a coil and resistor in series (textbook): i = I·(1 − e^(−t/τ))',
  copper: 'temperature coefficient of copper, 0.00393 1/K (textbook)',
  release:
    'relay makers’ application notes on coil suppression; formula from the R-L circuit with a fixed back voltage (read)',
  duty: 'solenoid makers’ guides: duty = on / (on + off) (read)',
  roll: 'length of a strip wound on a core (geometry, in paper makers’ guides; read)',
  serial: '8N1 frame: start, eight data and stop bit are 10 bits a byte (read)',
  raster: 'raster image command 1D 76 30: eight bytes before the rows (read)',
  practice: 'common practice, no source',
  memory: 'from memory',
  energy: 'conservation of energy (textbook)',
} as const;

/** Three digits that matter, without exponents. */
export const shown = (value: number): string => {
  if (!Number.isFinite(value)) return value > 0 ? 'no limit' : '–';
  if (value === 0) return '0';
  const digits = Math.max(0, 2 - Math.floor(Math.log10(Math.abs(value))));
  const text = value.toFixed(Math.min(digits, 6));
  return text.includes('.') ? text.replace(/0+$/, '').replace(/\.$/, '') : text;
};

const withUnit = ({ value, unit }: Quantity): string => `${shown(value)}${unit === '' ? '' : ` ${unit}`}`;

const columns = (rows: readonly (readonly string[])[]): string => {
  const widths = rows.reduce<number[]>((all, row) => row.map((cell, i) => Math.max(all[i] ?? 0, cell.length)), []);
  return rows
    .map(
      row =>
        `  ${row
          .map((cell, i) => cell.padEnd(widths[i]))
          .join('  ')
          .trimEnd()}\n`,
    )
    .join('');
};

/** A sheet as a person reads it. */
export const sheetText = ({ title, inputs, results, warnings, notes, cautions }: Sheet): string => {
  const block = (heading: string, lines: readonly string[]) =>
    lines.length === 0 ? '' : `\n${heading}\n${lines.map(line => hanging('  · ', line)).join('')}`;
  const cited = [...new Set(results.map(({ source }) => source))];
  const sumRows = results.map(one => [one.help, withUnit(one), one.formula, `[${cited.indexOf(one.source) + 1}]`]);
  return [
    `${title}\n`,
    `\nput in (change one by --set NAME=VALUE)\n${columns(inputs.map(one => [one.name, withUnit(one), one.help]))}`,
    `\ncomes out\n${columns(sumRows)}`,
    block('too much', warnings),
    block('mind', notes),
    block('take care', cautions),
    `\nsources\n${cited.map((source, index) => hanging(`  [${index + 1}] `, source)).join('')}`,
  ].join('');
};
