import { lineFits } from '../../print/fit.ts';
import { createReader, type Given } from './inputs.ts';
import { type Result, type Sheet, shown, sources } from './sheet.ts';
import { blackLineMs, bytesPerS, leastBaud, lineMmPerS } from './sums.ts';

const bandRows = 24;
const headerBytes = 8;

/** Whether wire, head and motor go together. */
export const lineSheet = (given: Given): Sheet => {
  const read = createReader(given);
  const { config, profile } = given;
  const serial = config.printer.link === 'serial';
  const baud = read.config('printer', 'baud', 'Bd', 'serial line');
  const widthDots = read.profile('widthDots', 'dots', 'dots across');
  const dotsPerMm = read.profile('dotsPerMm', '1/mm', 'dots a millimetre');
  const bufferBytes = read.profile('bufferBytes', 'B', 'receive buffer of the printer');
  const mmPerS = read.motor('mmPerS', 'mm/s', 'fastest paper speed');
  const atOnce = read.head('dotsAtOnce', 'dots', 'dots heated at once at most');
  const heatingUs = read.head('heatingUs', 'µs', 'heating time');
  const intervalUs = read.head('intervalUs', 'µs', 'interval between groups');
  const pictureMm = read.pictureMm();
  const rowBytes = Math.ceil(widthDots / 8);
  const overhead = headerBytes / (bandRows * rowBytes);
  const fit = lineFits(config, profile);
  const speed = Math.min(serial ? fit.wireMmPerS : Number.POSITIVE_INFINITY, fit.motorMmPerS);

  const results: Result[] = [];
  const add = (name: string, value: number, unit: string, help: string, formula: string, source: string) =>
    results.push({ name, value, unit, help, formula, source });
  add('rowBytes', rowBytes, 'B', 'one row of dots', '⌈dots/8⌉', sources.raster);
  add('overheadPercent', 100 * overhead, '%', `commands, ${bandRows} rows in each`, '8/(24 · row)', sources.raster);
  if (serial) {
    add('bytesPerS', bytesPerS(baud), 'B/s', 'the line carries', 'baud/10', sources.serial);
    add(
      'lineMmPerS',
      lineMmPerS(baud, rowBytes, dotsPerMm, overhead),
      'mm/s',
      'paper speed that it feeds',
      'baud/(10 · row · dots/mm)',
      sources.serial,
    );
    add(
      'leastBaud',
      Math.ceil(leastBaud(mmPerS, rowBytes, dotsPerMm, overhead)),
      'Bd',
      'baud that feeds the motor',
      '10 · row · dots/mm · v',
      sources.serial,
    );
    add(
      'bufferMs',
      (1000 * bufferBytes) / bytesPerS(baud),
      'ms',
      'until the buffer is full or empty',
      'buffer/(baud/10)',
      sources.serial,
    );
  }
  add(
    'blackLineMs',
    blackLineMs(widthDots, atOnce / 8 - 1, heatingUs / 10, intervalUs / 10),
    'ms',
    'a black row',
    '⌈dots/at once⌉·(heat + interval)',
    sources.heatCommand,
  );
  add(
    'blackMmPerS',
    fit.blackMmPerS,
    'mm/s',
    'paper speed in full black',
    '1/(row time · dots/mm)',
    sources.heatCommand,
  );
  add('pictureS', pictureMm / speed, 's', 'a light picture takes', 'length/speed', sources.serial);
  add(
    'blackPictureS',
    pictureMm / Math.min(speed, fit.blackMmPerS),
    's',
    'a black picture takes',
    'length/speed',
    sources.heatCommand,
  );

  const warnings: string[] = [];
  const verdicts = {
    'keeps up': 'the wire is never slower than head and motor: no picture stands in the middle',
    slowed: 'the wire is slower than the motor; the head is slowed down to it, and no picture stands in the middle',
    stands: `rows with less than ${shown(100 * fit.standsBelowInk)} % ink pass faster than the wire feeds them: the paper stops there, and bands may show`,
  };
  if (fit.verdict === 'stands')
    warnings.push(
      `${verdicts.stands}; use ${fit.leastBaud ?? 'a faster link'} baud or more, or a smaller motor speed in the profile`,
    );
  if (!fit.supplyHolds) warnings.push('the supply doesn’t hold that many dots at once: see reckon supply');
  const notes = fit.verdict === 'stands' ? [] : [verdicts[fit.verdict]];
  notes.push(
    'bytes beyond a full buffer are lost where there is no flow control; panel printers: reckon with 256 bytes (command manuals, read)',
  );
  return { title: 'printer line', inputs: read.used, results, warnings, notes, cautions: [] };
};
