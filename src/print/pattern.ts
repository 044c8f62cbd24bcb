import type { Dots } from '../parts/darkroom.ts';
import { glyphAdvance, glyphHeight, glyphsOf, glyphWidth } from '../picture/font.ts';
import { bayerMatrix } from '../picture/halftone/ordered.ts';
import { dotsAtOnce, headAmps, heatingFor, heatingLineUs, lineJoules, motorLineUs, supplyDots } from './head.ts';
import * as language from './language.ts';
import { bandsOf, piecesOf } from './pieces.ts';
import { createPlanner, type Plan, type Situation } from './planner.ts';
import type { BandHeat } from './slow.ts';

const rulerLines = 32;
const patchLines = 24;
const toneLines = 48;
const gapLines = 8;
const wordScale = 2;
/** Part by which a printer may be slower than the numbers that are to be found out. */
const slownessBorne = 0.25;

const draw = (widthDots: number, heightDots: number, inked: (x: number, y: number) => boolean): Dots => {
  const strideBytes = (widthDots + 7) >> 3;
  const data = new Uint8Array(strideBytes * heightDots);
  for (let y = 0; y < heightDots; y++)
    for (let x = 0; x < widthDots; x++) if (inked(x, y)) data[y * strideBytes + (x >> 3)] |= 0x80 >> (x & 7);
  return { widthDots, heightDots, strideBytes, data };
};

/** One line of words from the left edge, followed by a little white. */
const words = (text: string, widthDots: number): Dots => {
  const glyphs = glyphsOf(text);
  return draw(widthDots, (glyphHeight + 2) * wordScale, (x, y) => {
    const column = Math.floor(x / wordScale);
    const inGlyph = column % glyphAdvance;
    const rows = glyphs[Math.floor(column / glyphAdvance)];
    const row = Math.floor(y / wordScale);
    return rows !== undefined && inGlyph < glyphWidth && ((rows[row] ?? 0) >> (glyphWidth - 1 - inGlyph)) % 2 === 1;
  });
};

/** A tick every 8 dots, longer ones every 40 and 80, both edges marked: what is missing of it, the head hasn't. */
export const ruler = (widthDots: number): Dots =>
  draw(widthDots, rulerLines, (x, y) => {
    if (x === 0 || x === widthDots - 1) return true;
    return y < (x % 80 === 0 ? rulerLines : x % 40 === 0 ? 22 : x % 8 === 0 ? 12 : 0);
  });

/** Nine tones from white to black. */
export const tones = (widthDots: number): Dots => {
  const rank = bayerMatrix(8);
  return draw(widthDots, toneLines, (x, y) => rank[(y & 7) * 8 + (x & 7)] < (Math.floor((x * 9) / widthDots) / 8) * 64);
};

/** Size of one mark of the buffer probe, bytes, a multiple of its rows: a sixteenth of the buffer that the profile claims. */
export const probeMarkBytes = (bufferBytes: number): number => Math.max(16, Math.floor(bufferBytes / 128) * 8);
const probeMarks = 32;
const probeRows = 8;
/** Longer than this the paper would run only to keep the printer busy. */
const longestProbeUs = 2_000_000;

/**
 * While the paper is fed, marks are sent faster than they can be printed: as many come out as the buffer held. They are
 * rows of one raster command: whatever is lost of it, as many zeros end it. A header among the bytes that get lost could
 * leave the printer waiting for the pictures of an hour.
 */
const probe = (situation: Situation): { bytes: Uint8Array; feedLines: number; rows: number[] } | null => {
  const { profile, wire } = situation;
  const size = probeMarkBytes(profile.bufferBytes);
  const busyUs = size * probeMarks * wire.byteUs * 1.2;
  if (busyUs > longestProbeUs) return null;
  const widthBytes = size / probeRows;
  const rows = Array<number>(probeMarks * probeRows).fill(widthBytes);
  const data = new Uint8Array(size * probeMarks);
  // The last rows of each stay white and the mark is no wider than a thumb, so that marks can be counted.
  for (const y of rows.keys())
    if (y % probeRows < probeRows - 2) data.fill(0xff, y * widthBytes, y * widthBytes + Math.min(widthBytes, 6));
  const bytes = language.raster(widthBytes, rows.length, data);
  return { bytes, feedLines: Math.ceil(busyUs / motorLineUs(profile)), rows };
};

/** Steps of the speed ladder, as parts of the speed that the profile claims. */
const speedParts = [0.6, 0.8, 1, 1.2, 1.5];
/** In one command: the bytes that are lost then end in nothing but white rows. */
const speedRows = 96;
const checkRows = 4;
const checkBytes = 4;
const longestIntervalUs = 2550;

interface SpeedStep {
  mmPerS: number;
  lineUs: number;
  how: BandHeat;
  pieces: Uint8Array[];
}

/**
 * A chequered strip at a given time a line, and sent at that pace: where the motor is slower than that and nothing holds
 * the host back, it overruns the buffer. All rows have as many dots, for the same time; and as many bytes, white behind
 * the squares, as the wire brings in it. Null where head or wire are slower.
 */
const speedStep = ({ profile, power, wire, aboveK }: Situation, part: number, allowed: number): SpeedStep | null => {
  const mmPerS = profile.motor.mmPerS * part;
  const lineUs = Math.round(1e6 / (mmPerS * profile.dotsPerMm));
  const rowBytes = Math.min(Math.ceil(profile.widthDots / 8), Math.floor((0.8 * lineUs) / wire.byteUs));
  if (rowBytes < 2 * checkBytes) return null;
  const pieces = Array.from({ length: speedRows }, (_, y) => {
    const row = new Uint8Array(rowBytes);
    const left = Math.floor(y / checkRows) % 2 === 0;
    row.fill(0xff, left ? 0 : checkBytes, left ? checkBytes : 2 * checkBytes);
    return y === 0 ? Uint8Array.of(...language.rasterHeader(rowBytes, speedRows), ...row) : row;
  });
  for (let dots = 8 * checkBytes; dots >= 8; dots /= 2) {
    const heatingUs = heatingFor(profile, power, dots, aboveK);
    const restUs = (lineUs * dots) / (8 * checkBytes) - heatingUs;
    if (restUs < 0) break;
    if (dots <= allowed && restUs <= longestIntervalUs) {
      const how = { dotsAtOnce: dots, heatingUs, intervalUs: Math.floor(restUs / 10) * 10, breakUs: 0 };
      return { mmPerS, lineUs, how, pieces };
    }
  }
  return null;
};

/**
 * The test pattern by which a printer's numbers are found: ruler, steps of heating time, of dots at once with the paper
 * speed that they give, of speed up to what the motor bears, of density, tones, and the buffer probe. What the printer can't be told is left out. After it
 * the printer stands anywhere, since the probe overruns it on purpose, and the paper isn't at the tear edge yet.
 * @param flow Whether something holds the host back: then the probe would show nothing.
 */
export const planPattern = (situation: Situation, flow: boolean): Plan => {
  const { profile, power, wire } = situation;
  const { widthDots, commands, head, dotsPerMm } = profile;
  const planner = createPlanner(situation);
  const motorUs = Math.round(motorLineUs(profile));
  const allowed = dotsAtOnce(profile, power);
  const plain: BandHeat = {
    dotsAtOnce: allowed,
    heatingUs: heatingFor(profile, power, allowed, situation.aboveK),
    intervalUs: Math.round(head.intervalUs / 10) * 10,
    breakUs: 0,
  };

  const print = (dots: Dots, how = plain, density = 1) => {
    for (const band of bandsOf(dots, profile, wire))
      if (band.kind === 'feed') planner.feed(band.lines);
      else planner.print(piecesOf(dots, band, false, commands.image), how, density);
  };
  let reckonedUs = 0;
  /** Waits for a printer that is slower than its numbers, which may be all wrong yet, and begins a new line of words. */
  const section = (text: string) => {
    const slackUs = (planner.takesUs - reckonedUs) * slownessBorne;
    planner.add(language.feedUnits(gapLines), { lines: gapLines, takesUs: gapLines * motorUs + slackUs });
    reckonedUs = planner.takesUs;
    print(words(text, widthDots));
  };
  const chequered = ({ mmPerS, lineUs, how, pieces }: SpeedStep) => {
    section(`speed ${mmPerS.toFixed(1)} mm/s`);
    // Zeros are nothing to a printer; as many as have room keep the rows back until it is time for them. Else one that
    // has made good the time given for its slowness prints a few of them, and stands until the rest is sent.
    planner.add(new Uint8Array(wire.roomBytes));
    planner.add(language.heat(how));
    const joules = lineJoules(8 * checkBytes, how, profile, power);
    const amps = headAmps(how.dotsAtOnce, head.elementOhm, power);
    const line = { takesUs: lineUs, lines: 1, joules, amps, heats: true };
    for (const [row, bytes] of pieces.entries())
      planner.add(bytes, { ...line, unbroken: row > 0, whole: row === speedRows - 1 });
    // A slower printer has lost some of it, and waits for the rest.
    const lateUs = speedRows * Math.max(0, motorUs * (1 + slownessBorne) - lineUs);
    planner.flush(
      pieces.map(({ length }) => length),
      lateUs,
    );
    planner.add(language.heat(plain));
  };
  const half = draw(widthDots, patchLines, x => x < widthDots / 2);
  const black = draw(widthDots, patchLines, () => true);

  planner.settle();
  section(`ruler: ${widthDots} dots, a tick every 8`);
  print(ruler(widthDots));

  if (commands.heat === 'panel') {
    for (const percent of [50, 70, 85, 100, 115, 130, 150]) {
      const heatingUs = Math.min(2550, Math.max(30, Math.round((plain.heatingUs * percent) / 1000) * 10));
      section(`heating ${heatingUs} us`);
      print(half, { ...plain, heatingUs });
    }
    for (let dots = 8; dots <= Math.min(allowed, supplyDots(head.elementOhm, power)); dots *= 2) {
      const how = { ...plain, dotsAtOnce: dots };
      const lineUs = Math.max(motorUs, heatingLineUs(widthDots, how));
      section(`${dots} at once: ${(1e6 / (lineUs * dotsPerMm)).toFixed(1)} mm/s`);
      print(black, how);
    }
    if (commands.image === 'raster')
      for (const part of speedParts) {
        const step = speedStep(situation, part, allowed);
        if (step) chequered(step);
      }
  }
  if (commands.density === 'panel') {
    for (const percent of [50, 75, 100, 125, 150]) {
      section(`density ${percent} %`);
      planner.add(language.density(percent, 0, profile.quirks.densityFieldsSwapped));
      print(half, plain, percent / 100);
      planner.add(language.density(100, 0, profile.quirks.densityFieldsSwapped));
    }
  }
  section('tones in eighths');
  print(tones(widthDots));

  const buffer = flow || commands.image !== 'raster' ? null : probe(situation);
  if (buffer) {
    section(`buffer: marks x ${probeMarkBytes(profile.bufferBytes)} bytes`);
    // Said to take no time, the feed doesn't hold back what follows it; that is what the probe is about.
    for (let left = buffer.feedLines; left > 0; left -= 255)
      planner.add(language.feedUnits(Math.min(left, 255)), { lines: Math.min(left, 255) });
    planner.add(buffer.bytes);
    planner.flush([1], (buffer.feedLines + buffer.rows.length) * motorUs);
    planner.flush(buffer.rows);
  }
  return planner.plan();
};
