import { rollLengthMm } from '../../roll/roll.ts';
import { cautions } from '../tryout/cautions.ts';
import { createReader, type Given } from './inputs.ts';
import { type Result, type Sheet, shown, sources } from './sheet.ts';

/** Length of a roll and the pictures on it. */
export const paperSheet = (given: Given): Sheet => {
  const read = createReader(given);
  const rollOuterMm = read.config('printer', 'rollOuterMm', 'mm', 'roll, outer diameter');
  const rollCoreMm = read.config('printer', 'rollCoreMm', 'mm', 'its core, outer diameter');
  const paperUm = read.config('printer', 'paperUm', 'µm', 'thickness of the paper');
  const pictureMm = read.pictureMm();
  const marginMm = read.marginMm();
  const perHour = read.extra('picturesPerHour');
  const lengthMm = rollLengthMm({ rollOuterMm, rollCoreMm, paperUm });
  const pictures = Math.floor(lengthMm / (pictureMm + marginMm));

  const results: Result[] = [];
  const add = (name: string, value: number, unit: string, help: string, formula: string, source: string) =>
    results.push({ name, value, unit, help, formula, source });
  add('lengthM', lengthMm / 1000, 'm', 'paper on the roll', 'π·(D² − d²)/(4·t)', sources.roll);
  add('pictures', pictures, '', 'pictures on it', 'length/(picture + margin)', sources.roll);
  add(
    'hours',
    perHour > 0 ? pictures / perHour : Number.POSITIVE_INFINITY,
    'h',
    'until it is used up',
    'pictures/n',
    sources.roll,
  );

  const warnings: string[] = [];
  if (pictures < 20) warnings.push(`only ${pictures} pictures: a roll this small needs changing often`);
  if (paperUm < 45 || paperUm > 80)
    warnings.push(`${shown(paperUm)} µm is no usual receipt paper (50 to 75 µm): measure ten layers`);
  const notes = [
    '48 to 50 g/m² is about 50 to 55 µm, 55 g/m² 58 to 62, 58 g/m² 65 to 75 (paper makers’ data sheets, read)',
    'cores are 12 mm, sometimes 17.5 mm (paper makers’ data sheets, read)',
    'colour starts at 60 to 100 °C; more than a day at 40 °C, solvents, PVC and light fade it (paper makers’ guides, read)',
    'thermal prints aren’t permanent and may fade within 5 years: keep them under 20 °C, under 50 % humidity, dark (National Archives of Australia, read)',
    'a roll that gives 300 to 400 pictures: common practice, no source',
  ];
  const { paper, head } = cautions;
  return { title: 'paper', inputs: read.used, results, warnings, notes, cautions: [paper, head] };
};
