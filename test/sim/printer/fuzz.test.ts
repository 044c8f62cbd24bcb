import { describe, expect, it } from 'vitest';
import { chance } from '../../../sim/random.ts';
import { onBench, raster } from './bench.ts';

describe('a printer to which anything may happen', () => {
  const runs = Number(process.env.FUZZ_RUNS ?? 150);

  it(`takes any bytes and any mishap in ${runs} runs, and is fit again once it has power, paper and quiet`, () => {
    const luck = chance(4711);
    for (let run = 0; run < runs; run++) {
      const kind = luck.pick(['serial', 'usb'] as const);
      const flow = luck.pick(['none', 'xonxoff', 'rtscts'] as const);
      const bench = onBench({
        line: { kind, flow, printerFlow: luck.pick(['none', 'xonxoff', 'rtscts', undefined] as const), baud: 230_400 },
        mechanism: { bufferBytes: luck.pick([16, 256, 4096]) },
        knows: { automaticStatus: luck.hit(0.5), reverse: luck.hit(0.5), cutter: luck.hit(0.5), sleep: luck.hit(0.5) },
        quirks: {
          statusInImages: luck.hit(0.5),
          busyOffLine: luck.hit(0.3),
          sleepsAfterS: luck.pick([0, 0, 1]),
          powerUpMs: luck.pick([0, 500]),
        },
        setup: { rollMm: luck.pick([50, 5000]), keepLines: 4096 },
      });
      const { control, port } = bench.printer;
      let written = 0;
      const write = (bytes: number[]) => {
        written += bytes.length;
        bench.write(bytes);
      };
      const mishaps: (() => void)[] = [
        () => control.paperOut(luck.hit(0.5)),
        () => control.nearEnd(luck.hit(0.5)),
        () => control.lid(luck.hit(0.5)),
        () => control.hot(luck.hit(0.5)),
        () => control.ambient(luck.whole(-10, 70)),
        () => control.unplug(),
        () => control.replug(),
        () => control.power(luck.hit(0.5)),
        () => control.loadRoll(luck.whole(1, 500)),
        () => control.tear(),
        () => control.feedButton(luck.hit(0.5)),
        () => control.jamCutter(luck.hit(0.5)),
        () => control.break(),
        () => control.says([luck.whole(0, 255)]),
        () => port.discard(),
      ];
      for (let step = luck.whole(3, 40); step > 0; step--) {
        const what = luck.whole(1, 4);
        if (what <= 2) luck.pick(mishaps)();
        else if (what === 3)
          write(raster(Array.from({ length: luck.whole(1, 24) }, () => new Uint8Array(48).fill(luck.whole(0, 255)))));
        else write(Array.from({ length: luck.whole(1, 200) }, () => luck.whole(0, 255)));
        bench.runFor(luck.pick([0, 1000, 200_000]));
        const { bytesReceived, bytesLost, peakStored } = bench.printer.stats();
        expect(bytesReceived).toBeLessThanOrEqual(written);
        expect(bytesLost).toBeLessThanOrEqual(bytesReceived);
        expect(peakStored).toBeLessThanOrEqual(bench.mechanism.bufferBytes);
      }
      for (const heal of [
        control.paperOut,
        control.nearEnd,
        control.lid,
        control.hot,
        control.feedButton,
        control.jamCutter,
      ])
        heal(false);
      control.ambient(25);
      control.replug();
      control.power(false);
      control.power(true);
      control.loadRoll(10_000);
      // What the host had still queued is printed too, and may end within a command that only power ends.
      bench.runFor(120e6);
      control.power(false);
      control.power(true);
      control.loadRoll(10_000);
      // An XOFF that it said out of turn stands until an XON.
      control.says([0x11]);
      bench.runFor(2e6);
      const answered = bench.heard().length;
      const { linesHeated } = bench.printer.stats();
      // FF wakes one that sleeps.
      write([0xff]);
      bench.runFor(60_000);
      write([0x10, 0x04, 0x01, ...raster([new Uint8Array(48).fill(0x0f)])]);
      bench.runFor(1e6);
      expect(bench.printer.stats().linesHeated, `run ${run}`).toBeGreaterThan(linesHeated);
      expect(bench.heard().length, `run ${run}`).toBeGreaterThan(answered);
      expect(bench.clock.pending, `run ${run}`).toBeLessThan(5);
    }
  });
});
