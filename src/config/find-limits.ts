import { lineFits } from '../print/fit.ts';
import { pictureOnPaperMm } from '../print/imprint.ts';
import { pictureLengthMm, rollLengthMm } from '../roll/roll.ts';
import { type Checked, type Finding, finding } from './finding.ts';

const rounded = (value: number): string => String(Math.round(value * 10) / 10);

const room = (mb: number): string => (mb >= 10_000 ? `${rounded(mb / 1000)} GB` : `${rounded(mb)} MB`);

/** Whether wire, head, motor and supply go together. */
export const findLine = ({ config, profile }: Checked): Finding[] => {
  const fit = lineFits(config, profile);
  const findings: Finding[] = [];
  if (fit.verdict === 'stands')
    findings.push(
      finding(
        'warning',
        'printer.baud',
        `rows with less than ${rounded(100 * fit.standsBelowInk)} % ink pass faster than ${config.printer.baud} baud feed them`,
        'the paper stops within a picture, and bands may show',
        `set printer and printer.baud to ${fit.leastBaud ?? 'more'} or more, or lower motor.mmPerS in the profile`,
      ),
    );
  if (!fit.supplyHolds)
    findings.push(
      finding(
        'fault',
        'supply.internalOhm',
        `${fit.dotsAtOnce} dots at once draw ${rounded(fit.peakAmps)} A and pull the supply under its floor of ${config.supply.floorVolts} V`,
        'the board may reset in the middle of a picture',
        'thicker wires, a stronger pack, or fewer dots at once in the profile; slipshutter reckon supply shows the sums',
      ),
    );
  if (fit.dotsAtOnce < profile.head.dotsAtOnce && fit.supplyHolds)
    findings.push(
      finding(
        'note',
        'supply.internalOhm',
        `${fit.dotsAtOnce} dots are heated at once, not the profile’s ${profile.head.dotsAtOnce}`,
        'the supply holds no more; black rows take longer',
        'slipshutter reckon supply shows the sums',
      ),
    );
  return findings;
};

export const findCoil = ({ config }: Checked): Finding[] => {
  const { line, pulseMs, lockoutMs, dutyPercent } = config.shutter;
  if (line === null) return [];
  const duty = (100 * 2 * pulseMs) / (2 * pulseMs + lockoutMs);
  if (duty <= dutyPercent) return [];
  return [
    finding(
      'warning',
      'shutter.lockoutMs',
      `two strokes of ${pulseMs} ms a picture, as fast as allowed, are ${rounded(duty)} % duty; the limit is ${dutyPercent} %`,
      'in a row of pictures the coil’s guard would withhold strokes: the camera stays silent though it takes pictures',
      `set shutter.lockoutMs to at least ${Math.ceil(2 * pulseMs * (100 / dutyPercent - 1))}, or shorten the stroke`,
    ),
  ];
};

const fewPictures = 50;

export const findPaper = ({ config, profile }: Checked): Finding[] => {
  const pictureMm = pictureLengthMm(profile, config.picture);
  const pictures = Math.floor(rollLengthMm(config.printer) / pictureOnPaperMm(profile, config));
  const what = `a roll of ${config.printer.rollOuterMm} mm gives about ${pictures} pictures of ${rounded(pictureMm)} mm`;
  return [
    finding(
      pictures < fewPictures ? 'warning' : 'note',
      'printer.rollOuterMm',
      what,
      'so much a party can take before the roll is changed',
      'slipshutter reckon paper shows the sums',
    ),
  ];
};

/** A YUYV frame's luma and its dots, as the album keeps them. */
const pictureBytes = (widthPx: number, heightPx: number): number => widthPx * heightPx + 60_000;
const fewestPictures = 200;

export const findDisk = ({ config, board: { disk } }: Checked): Finding[] => {
  if (!disk) return [];
  const { folder, leastFreeMb, whenFull } = config.album;
  const why = 'pictures would be printed, and not kept';
  if (disk.readOnly)
    return [
      finding(
        'fault',
        'album.folder',
        `${folder} is on a read-only disk`,
        why,
        'mount it writable, or name another folder',
      ),
    ];
  const roomMb = disk.freeMb - leastFreeMb;
  const pictures = Math.floor((roomMb * 1e6) / pictureBytes(config.webcam.widthPx, config.webcam.heightPx));
  if (pictures <= 0)
    return [
      finding(
        'fault',
        'album.folder',
        `${rounded(disk.freeMb)} MB are free, and ${leastFreeMb} MB are to stay free`,
        why,
        'make room, or lower album.leastFreeMb',
      ),
    ];
  const what = `room for about ${pictures} pictures (${room(disk.freeMb)} free)`;
  if (pictures >= fewestPictures || whenFull === 'oldest-goes')
    return [finding('note', 'album.folder', what, 'each takes what its frame has in luma', '')];
  return [finding('warning', 'album.folder', what, why, 'make room, or set album.whenFull to oldest-goes')];
};

/** No board that runs this was set before this year. */
const firstYear = 2025;

export const findClock = ({ board: { clock } }: Checked): Finding[] => {
  if (!clock) return [];
  const why = 'pictures are numbered and never mixed up, but carry no time, or a wrong one';
  if (clock.year < firstYear)
    return [
      finding(
        'warning',
        'clock',
        `the board believes it is ${clock.year}`,
        why,
        'add a real-time clock, or let it learn the time from a network',
      ),
    ];
  if (clock.synchronised === false && !clock.hardware)
    return [
      finding(
        'note',
        'clock',
        'the time isn’t synchronised, and there is no real-time clock',
        why,
        'add a real-time clock where captions need the time',
      ),
    ];
  return [];
};
