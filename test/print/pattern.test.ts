import { describe, expect, it } from 'vitest';
import { powerOf } from '../../src/print/head.ts';
import { planPattern, probeMarkBytes, ruler, tones } from '../../src/print/pattern.ts';
import { wireOf } from '../../src/print/wire.ts';
import { configOf, createDesk, type Desk, hex, noise, type Part, profileOf } from './desk.ts';

const ink = (data: Uint8Array) => data.reduce((sum, byte) => sum + byte.toString(2).replaceAll('0', '').length, 0);

const printed = (setup: Parameters<typeof createDesk>[0] = {}): Desk => {
  const desk = createDesk(setup);
  const { link, flow } = configOf(setup.config).printer;
  const { end } = desk.finish(heard =>
    desk.engine.printPlan(situation => planPattern(situation, link !== 'serial' || flow !== 'none'), heard),
  );
  expect(end.kind).toBe('done');
  return desk;
};

describe('test pattern', () => {
  it('has a ruler with a tick every 8 dots and both edges', () => {
    const { data, strideBytes } = ruler(384);
    expect(hex(data.subarray(0, 12))).toBe('80 80 80 80 80 80 80 80 80 80 80 80');
    expect(data[strideBytes * 31]).toBe(0x80);
    expect(data[strideBytes * 31 + 47] & 1).toBe(1);
    expect(data[strideBytes * 31 + 5] & 0x80).toBe(0);
    expect(data[strideBytes * 31 + 10] & 0x80).toBe(0x80);
  });

  it('has nine tones from white to black', () => {
    const { data, strideBytes } = tones(576);
    const shares = Array.from({ length: 9 }, (_, step) => {
      let black = 0;
      for (let y = 0; y < 48; y++)
        black += ink(data.subarray(y * strideBytes + step * 8, y * strideBytes + step * 8 + 8));
      return black / (48 * 64);
    });
    shares.forEach((share, step) => {
      expect(share).toBeCloseTo(step / 8, 6);
    });
  });

  it('counts the receive buffer on the virtual printer', () => {
    for (const bufferBytes of [256, 1024]) {
      const desk = printed({ profile: { bufferBytes }, config: { printer: { baud: 230_400 } } });
      const { paper } = desk.printer;
      // Marks are the last stretches of black before the end: each six rows high, two rows of white behind it.
      const size = probeMarkBytes(bufferBytes);
      let line = paper.at - 1;
      const isBlack = () => paper.line(line).dots?.[0] === 0xff;
      while (!isBlack()) line--;
      let marks = 0;
      // What the last bytes of a full buffer make of a mark is not as high as one.
      for (let white = 0, black = 0; white < 8; line--) {
        if (isBlack()) black++;
        else if (black > 0) {
          if (black === 6) marks++;
          black = 0;
        }
        white = isBlack() ? 0 : white + 1;
      }
      expect(desk.printer.stats().peakStored).toBe(bufferBytes);
      expect(desk.printer.stats().bytesLost).toBeGreaterThan(0);
      expect(Math.abs(marks * size - bufferBytes)).toBeLessThanOrEqual(size);
    }
  });

  it('shows the speed of the motor by the first step that falls apart, and goes on whole behind it', () => {
    const toneRows = Array.from({ length: 48 }, (_, y) => hex(tones(384).data.subarray(48 * y, 48 * y + 48)));
    /** Steps of the ladder whose 96 rows came out whole, rows within them at which the paper stood, and whether the tones are there. */
    const steps = (motorMmPerS: number, config: Part<ReturnType<typeof configOf>> = {}) => {
      const { paper } = printed({
        mechanism: m => ({ ...m, motor: { ...m.motor, mmPerS: motorMmPerS } }),
        config,
      }).printer;
      const seen = { whole: 0, stood: 0, tones: false };
      for (let at = 0, row = 0, toneRow = 0; at < paper.at && !seen.tones; at++) {
        const { dots, disturbed } = paper.line(at);
        const found = dots === null ? '' : hex(dots);
        const squares = Math.floor(row / 4) % 2 === 0 ? 'FF FF FF FF 00 00 00 00 00' : '00 00 00 00 FF FF FF FF 00';
        row = found.startsWith(squares) ? row + 1 : 0;
        if (row > 1 && disturbed) seen.stood++;
        if (row === 96) seen.whole++;
        toneRow = found === toneRows[toneRow] ? toneRow + 1 : 0;
        seen.tones = toneRow === 48;
      }
      return seen;
    };
    // The ladder goes from 30 to 75 mm/s; the profile says 50.
    expect(steps(50)).toEqual({ whole: 3, stood: 0, tones: true });
    expect(steps(42)).toEqual({ whole: 2, stood: 0, tones: true });
    expect(steps(90)).toMatchObject({ whole: 5, tones: true });
    // A printer that says stop loses nothing, and a slow line has no such steps.
    expect(steps(42, { printer: { flow: 'rtscts' } }).whole).toBe(5);
    expect(steps(50, { printer: { baud: 9600 } }).whole).toBe(0);
  });

  it('leaves the printer so that the next picture is whole', () => {
    const desk = printed({ config: { printer: { baud: 230_400 } } });
    const dots = noise(384, 96, 0.4);
    expect(desk.finish(heard => desk.engine.printBody(dots, heard)).end.kind).toBe('done');
    const { paper } = desk.printer;
    expect(Buffer.compare(paper.dots(paper.at - 96, paper.at).data, dots.data)).toBe(0);
  });

  it('tells a printer only what it knows, and never more at once than supply and profile bear', () => {
    const planned = (part: Part<ReturnType<typeof profileOf>>, internalOhm = 0.15, flow = true) => {
      const profile = profileOf(part);
      const config = configOf({ supply: { internalOhm } });
      const wire = wireOf(profile, config.printer);
      return planPattern({ profile, power: powerOf(profile, config.supply), wire, aboveK: 0 }, flow);
    };
    const commands = (bytes: Uint8Array) => hex(bytes).match(/1B 37 (..)/g) ?? [];
    const all = planned({ commands: { density: 'panel' } });
    expect(new Set(commands(all.bytes)).size).toBe(4);
    const raster96 = (bytes: Uint8Array) => hex(bytes).match(/1D 76 30 00 .. 00 60 00/g) ?? [];
    expect(raster96(all.bytes)).toHaveLength(5);
    const densities = (hex(all.bytes).match(/12 23 ../g) ?? []).map(command => command.slice(-2));
    expect(densities).toEqual(['00', '0A', '05', '0A', '0A', '0A', '0F', '0A', '14', '0A']);

    expect(commands(planned({}, 0.6).bytes).every(command => command <= '1B 37 02')).toBe(true);
    const dumb = planned({ commands: { heat: 'none' } }).bytes;
    expect(hex(dumb)).not.toMatch(/1B 37|12 23/);
    expect(raster96(dumb)).toHaveLength(0);
    expect(planned({}, 0.15, false).bytes.length).toBeGreaterThan(planned({}).bytes.length + 400);
  });
});
