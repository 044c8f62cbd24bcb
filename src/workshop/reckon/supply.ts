import { dotsAtOnce, headVolts, powerOf, supplyDots } from '../../print/head.ts';
import { cautions } from '../tryout/cautions.ts';
import { createReader, type Given } from './inputs.ts';
import { type Result, type Sheet, shown, sources } from './sheet.ts';
import {
  batteryHours,
  dotMj,
  energyAtC,
  energyMissing,
  packOhm,
  peakAmps,
  pulseAtVolts,
  pulseMs,
  sagVolts,
} from './sums.ts';

/** Peak current, sag, the pulse that makes up for it, and how long the battery lasts. */
export const supplySheet = (given: Given): Sheet => {
  const read = createReader(given);
  const { config, profile } = given;
  const volts = read.config('supply', 'nominalVolts', 'V', 'open voltage');
  const internalOhm = read.config('supply', 'internalOhm', 'Ω', 'internal and wiring resistance');
  const floorVolts = read.config('supply', 'floorVolts', 'V', 'least voltage under load');
  const emptyVolts = read.config('supply', 'emptyVolts', 'V', 'open voltage of the empty battery');
  const capacityWh = read.config('supply', 'capacityWh', 'Wh', 'energy of the full battery');
  const boardWatts = read.config('supply', 'boardWatts', 'W', 'board and webcam');
  const coilOhm = read.config('supply', 'coilOhm', 'Ω', 'coil');
  const widthDots = read.profile('widthDots', 'dots', 'dots across');
  const dotsPerMm = read.profile('dotsPerMm', '1/mm', 'dots a millimetre');
  const promised = read.head('dotsAtOnce', 'dots', 'dots heated at once at most');
  const elementOhm = read.head('elementOhm', 'Ω', 'one heating element');
  const heatingUs = read.head('heatingUs', 'µs', 'heating time');
  const headNominal = read.head('volts', 'V', 'voltage that the heating time is meant for');
  const ink = read.extra('ink');
  const pictureMm = read.pictureMm();
  const perHour = read.extra('picturesPerHour');
  const efficiency = read.extra('efficiency');
  const seriesCells = read.extra('seriesCells');
  const parallelCells = read.extra('parallelCells');
  const cellMohm = read.extra('cellMohm');
  const wiringMohm = read.extra('wiringMohm');
  const paperMj = read.extra('paperMj');
  const paperMjPerC = read.extra('paperMjPerC');
  const headC = read.extra('headC');

  const power = powerOf(profile, config.supply);
  const amps = peakAmps(promised, volts, elementOhm);
  const sag = sagVolts(amps, internalOhm);
  const underLoad = headVolts(promised, elementOhm, power);
  const pack = packOhm(seriesCells, parallelCells, cellMohm / 1000, wiringMohm / 1000);
  const neededMj = energyAtC(paperMj, paperMjPerC, headC);
  const allowed = supplyDots(elementOhm, power);
  const emptyAllowed = supplyDots(elementOhm, { ...power, openVolts: emptyVolts });
  const atOnce = dotsAtOnce(profile, power);
  const mj = dotMj(headNominal, heatingUs, elementOhm);
  const pictureJ = (widthDots * pictureMm * dotsPerMm * ink * mj) / 1000;
  const coilJ = (2 * (volts ** 2 / coilOhm) * config.shutter.pulseMs) / 1000;
  const meanWatts = boardWatts / efficiency + (perHour * (pictureJ + coilJ)) / 3600;

  const results: Result[] = [];
  const add = (name: string, value: number, unit: string, help: string, formula: string, source: string) =>
    results.push({ name, value, unit, help, formula, source });
  add('peakAmps', amps, 'A', 'head current with the dots at once', 'I = N·V/R', sources.head);
  add(
    'allDotsAmps',
    peakAmps(widthDots, volts, elementOhm),
    'A',
    'if all dots across were hot',
    'I = N·V/R',
    sources.head,
  );
  add('packOhm', pack, 'Ω', 'resistance of pack and wires, from the cells', 's·Rc/p + Rw', sources.cell);
  add('sagVolts', sag, 'V', 'sag of the supply', 'ΔV = I·Ri', sources.cell);
  add(
    'energyMissing',
    100 * energyMissing(volts, sag),
    '%',
    'head energy missing by it',
    '1 − ((V − ΔV)/V)²',
    sources.energy,
  );
  add(
    'pulseUs',
    pulseAtVolts(heatingUs, headNominal, underLoad),
    'µs',
    'heating time that makes up for it',
    't·(Vn/V)²',
    sources.head,
  );
  add('terminalVolts', underLoad, 'V', 'voltage with head and board drawing', '(V − Ri·Ib)/(1 + Ri·N/R)', sources.ohm);
  add(
    'supplyDots',
    allowed,
    'dots',
    'at once before the floor is reached, coil included',
    '((V − Vf)/Ri − Ib − Ic)·R/Vf',
    sources.ohm,
  );
  add('dotMj', mj, 'mJ', 'energy of a dot', 'E = V²·t/R', sources.head);
  add('neededMj', neededMj, 'mJ', 'what the paper needs at that temperature', 'E25 + (25 − T)·Tc', sources.head);
  add(
    'neededUs',
    1000 * pulseMs(neededMj, elementOhm, underLoad),
    'µs',
    'heating time for that, by this voltage',
    't = E·R/V²',
    sources.head,
  );
  add('pictureJ', pictureJ, 'J', 'energy of a picture on paper', 'dots · ink · E', sources.energy);
  add(
    'idleHours',
    batteryHours(capacityWh, boardWatts, efficiency),
    'h',
    'battery when nothing is printed',
    'Wh·η/W',
    sources.energy,
  );
  add('hours', capacityWh / meanWatts, 'h', 'battery at that many pictures an hour', 'Wh/(W/η + n·E)', sources.energy);
  add(
    'pictures',
    Math.floor((perHour * capacityWh) / meanWatts),
    '',
    'pictures from a full battery',
    'hours · n',
    sources.energy,
  );

  const warnings: string[] = [];
  if (!profile.ownSupply && allowed < promised)
    warnings.push(
      `the supply holds ${allowed} dots at once, the profile allows ${promised}: ${atOnce} are used; lower the supply’s resistance or expect slower prints`,
    );
  if (!profile.ownSupply && emptyAllowed < Math.min(8, widthDots))
    warnings.push(
      `towards its end (${shown(emptyVolts)} V) the battery can’t print: raise supply.emptyVolts or lower its resistance`,
    );
  if (volts - sag < floorVolts)
    warnings.push(
      `${shown(promised)} dots at once pull the supply to ${shown(volts - sag)} V, under its floor of ${shown(floorVolts)} V`,
    );
  if (!profile.ownSupply && pack > internalOhm * 1.1)
    warnings.push(
      `cells and wires make ${shown(pack)} Ω, more than the ${shown(internalOhm)} Ω of supply.internalOhm: set that to what is true`,
    );
  const notes = [
    'idle dominates: what board and webcam draw decides how long a battery lasts, not the pictures (calculated above)',
    'a cell has 20 to 80 mΩ when new; measured: (open voltage − loaded voltage)/current (cell data sheets, read)',
    'paper needs 0.285 to 0.356 mJ a dot at 25 °C, and 0.0013 to 0.0044 mJ less for each degree more (mechanisms’ technical references, read)',
  ];
  if (profile.ownSupply) notes.push('this printer has an adapter of its own: its head doesn’t load the battery');
  const { general, cells, adapter, head } = cautions;
  const care = profile.ownSupply ? [cells, adapter, head, general] : [cells, head, general];
  return { title: 'battery and head', inputs: read.used, results, warnings, notes, cautions: care };
};
