import { describe, expect, it } from 'vitest';
import type { PrinterControl } from '../../sim/printer/control.ts';
import { createVirtualRig } from '../../sim/rig.ts';
import { createStampScene } from '../../sim/stamp.ts';
import { createAlbum } from '../../src/album/album.ts';
import { startCamera } from '../../src/camera.ts';
import type { Profile } from '../../src/config/profile.ts';
import { defaultConfig } from '../../src/config/schema.ts';
import { encodeCode128 } from '../../src/print/code128.ts';
import { createImprint, type Imprint } from '../../src/print/imprint.ts';
import { noise, type Part, profileOf } from './desk.ts';

/** Longer than any buffer here: what a printer still holds when it stopped is never all of it. */
const picture = noise(288, 300, 0.35);

/** The whole camera on virtual parts, every picture the same. */
const onRig = (part: Part<Profile>, imprint: Imprint | null = null) => {
  const profile = profileOf({ widthDots: 288, ...part });
  const config = defaultConfig();
  config.webcam.widthPx = 64;
  config.webcam.heightPx = 64;
  const virtual = createVirtualRig({
    config,
    profile,
    seed: 11,
    scene: createStampScene(),
    develop: () => picture,
    developUs: () => 150_000,
    createAlbum: (disk, clock) => createAlbum({ disk, clock, config }),
    sparse: true,
  });
  const log: { event: string; why?: unknown; paperLeftMm?: number; picturesLeft?: number }[] = [];
  startCamera({
    rig: virtual.rig,
    config,
    profile,
    imprint,
    log: (event, fields) => void log.push({ event, ...fields }),
    onBroken: error => {
      throw error;
    },
  });
  const { clock, control, printer } = virtual;
  const run = (ms: number) => clock.runUntil(clock.nowUs() + ms * 1000);
  return {
    log,
    control,
    run,
    printer,
    lamp: () => control.lamp.shown?.name,
    /** Runs on until the paper moves under a picture. */
    untilPrinting() {
      const { length } = log;
      while (!log.slice(length).some(({ event }) => event === 'print-begun')) run(1);
    },
    /** How often the picture is on paper whole. */
    whole() {
      const { paper } = printer;
      const rows = paper.dots(paper.firstKept, paper.length).data;
      let found = 0;
      for (let at = rows.indexOf(picture.data[0]); at >= 0; at = rows.indexOf(picture.data[0], at + 1))
        if (
          at % picture.strideBytes === 0 &&
          !Buffer.compare(rows.subarray(at, at + picture.data.length), picture.data)
        )
          found++;
      return found;
    },
    count: (event: string) => log.filter(line => line.event === event).length,
  };
};

type Reason = 'paper-out' | 'lid-open' | 'head-hot' | 'off-line' | 'lost';
const troubles: [Reason, (printer: PrinterControl, on: boolean) => void][] = [
  ['paper-out', (printer, on) => printer.paperOut(on)],
  ['lid-open', (printer, on) => printer.lid(on)],
  ['head-hot', (printer, on) => printer.hot(on)],
  ['off-line', (printer, on) => printer.jamCutter(on)],
  ['lost', (printer, on) => (on ? printer.unplug() : printer.replug())],
];
const classes: [string, Part<Profile>][] = [
  ['asked for its status, 256 bytes', { commands: { rasterRows: 8 } }],
  ['automatic status, 4 KB', { bufferBytes: 4096, commands: { status: 'automatic', heat: 'none' } }],
];

describe.each(classes)('a picture cut by trouble at the printer, %s', (_, part) => {
  it.each(troubles)('%s: the camera waits for it, shows it, and prints the picture whole, once', (reason, make) => {
    const rig = onRig(part);
    rig.run(3000);
    expect(rig.lamp()).toBe('ready');
    rig.control.press(100);
    rig.untilPrinting();
    make(rig.control.printer, true);
    rig.run(6000);
    expect(rig.lamp()).toBe(reason);
    expect(rig.log.find(({ event }) => event === 'waiting')?.why).toBe(reason);
    expect(rig.whole()).toBe(0);
    make(rig.control.printer, false);
    rig.run(12_000);
    expect(rig.lamp()).toBe('ready');
    expect(rig.count('resumed')).toBe(1);
    expect(rig.count('printed')).toBe(1);
    expect(rig.whole()).toBe(1);
    rig.run(20_000);
    expect(rig.whole()).toBe(1);
  });

  it('its sensor near the end is shown and said, and stops nothing', () => {
    const rig = onRig(part);
    rig.run(3000);
    rig.control.printer.nearEnd(true);
    rig.run(4000);
    expect(rig.lamp()).toBe('near-end');
    expect(rig.count('near-end')).toBe(1);
    rig.control.press(100);
    rig.run(6000);
    expect(rig.whole()).toBe(1);
  });
});

describe('pictures left on the roll', () => {
  it('are as many as the paper between two pictures gives, margins included', () => {
    const rig = onRig({}, createImprint({ widthDots: 288, mark: 'SLIP', encode: encodeCode128 }));
    rig.run(3000);
    for (let i = 0; i < 3; i++) {
      rig.control.press(100);
      rig.run(6000);
    }
    const printed = rig.log.filter(({ event }) => event === 'printed');
    const [before, after] = printed.map(({ paperLeftMm }) => paperLeftMm ?? Number.NaN);
    for (const { paperLeftMm = 0, picturesLeft = 0 } of printed)
      expect(Math.abs(paperLeftMm / (before - after) - picturesLeft)).toBeLessThan(0.03 * picturesLeft);
  });
});

describe('the printer’s own feed button', () => {
  it('costs paper, and the account of the roll knows it', () => {
    const rig = onRig({ commands: { status: 'automatic' } });
    const leftAfterPicture = () => {
      rig.control.press(100);
      rig.run(6000);
      return rig.log.findLast(({ event }) => event === 'printed')?.paperLeftMm ?? Number.NaN;
    };
    rig.run(3000);
    const before = leftAfterPicture();
    const pictureMm = before - leftAfterPicture();
    rig.control.printer.feedButton(true);
    rig.run(4000);
    rig.control.printer.feedButton(false);
    rig.run(3000);
    const fedMm = before - leftAfterPicture() - 2 * pictureMm;
    // 50 mm/s for four seconds, heard at once where the status comes by itself.
    expect(Math.abs(fedMm - 200)).toBeLessThan(10);
  });
});
